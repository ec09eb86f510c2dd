// Package heatday is a garden's day in the heat, over the records: what is owed at the temperatures that were measured or are forecast, what is ready, who is to be watched
// closely, and who is owed a cool-down rest that nobody recorded. The limits come from the safety rulebook of the garden.
package heatday

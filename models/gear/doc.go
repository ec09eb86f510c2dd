// Package gear keeps what people climb on, hang from and carry: the register of palms, equipment with its inspections, gear in workers' hands, and photos of what was
// found. What happens to any of it is an event that is never changed; the state that follows from the events is kept with the thing itself, in the same
// transaction, so that asking for it costs the same after five seasons as on the first day.
//
// What stops comes first: a stopping defect, an arrested fall or a word against a palm takes effect at once, whoever sends it and however late it arrives. The
// way back is for a competent person, by name and with a reason, on the state that this person looked at.
package gear

// Package dated holds civil dates and values that are in force from one day through another, with the strict
// loader for the files that list them. It knows nothing of any law: pay and safety both build their rulebooks on it.
package dated

// Package clearance answers from the records who of a crew may go up on a day, which way, and why not: it gathers what the register of equipment, the training, the checklists,
// the stops and the heat tell, hands it to package safety, and keeps the clearances that were given. Work done without one becomes an exception for the safety officer;
// nothing here reads or writes pay.
//
// A clearance takes five statements whatever the size of the crew: the setups with everything that is there once for a way up; the members; what each of them holds; the equipment; what
// people decided. What no record tells stays unknown, and is a reason.
package clearance

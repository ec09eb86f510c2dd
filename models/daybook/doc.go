// Package daybook keeps a crew's day while its lead is still writing it, on a page or by orders of a device: who is there, who works at what since when, the counts as they grow. A draft is
// no evidence. It may be changed, taken back and left lying, nobody is paid by it, and its changes stand in no audit trail. What is sent goes through package intake as any crew sheet does,
// each sending a sheet of its own with what is new since the last one; what was taken in leaves the draft and is then corrected like any record, what was refused stays
// in it.
package daybook

// Package documents renders what people are handed: a statement as public JSON and as a printable page, a pay run as a list for the books.
// It is pure: values in, bytes out. It adds nothing up but a list's own totals, and decides nothing.
package documents

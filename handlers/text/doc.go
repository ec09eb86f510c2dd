// Package text holds everything that Palmero says to people, in English and in Spanish: one catalogue per language, a message
// per key, and the reader's manner of writing money, time, counts and dates.
//
// A message is a sentence with placeholders. {name} stands for the term of that name, written by its type. A suffix
// asks for another way:
//
//	{date:iso}     a date as 2026-02-16, but on pages in the reader's manner
//	{unit:one}     a unit of measure in the singular, {unit:many} in the plural
//	{found:kind}   the message "kind." + the term, such as kind.list; the term itself where there is none
//
// The terms named unit and operation are the trade's words and are said by the messages of those families: unit.bunch,
// unit.bunch.many (where the term pieces, or else the only count among the terms, is not one), operation.pollination.
// A word of the farm's own is said as it was given.
package text

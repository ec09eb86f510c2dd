// Package strictjson reads JSON documents into Go values and takes nothing on trust: an unknown or miscased name, a name
// given twice, a missing one, a value of the wrong kind or out of range is refused, and all of them are told at once,
// each with its JSON pointer.
//
// The shape of a document is that of the Go type it is read into. A field whose json tag says omitempty or omitzero may be left
// out or be null; any other must be there, and null only if it is a pointer.
//
// It reads structs (embedded ones, and fields tagged json:",inline", as part of the object that holds them), pointers, slices,
// maps with string keys, strings, booleans, integers, [time.Time] (RFC 3339 with an offset), types with UnmarshalText (from a
// JSON string), and of these, types with UnmarshalInteger(int64) error from a JSON integer as well. A decimal of money travels as a string;
// there are no floats. A measurement is a type with UnmarshalNumber(name, number string) error, which gets the digits of a JSON number as they are
// written; types with UnmarshalBool(bool) read true and false, and those with UnmarshalNull() take null as a value of their own.
//
// A field tagged twin:"height_m" may go by that name too, but not by both: the same height in feet or in metres.
package strictjson

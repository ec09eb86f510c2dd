// Package spreadsheet reads the files that farms keep their counts in, CSV and XLSX, into rows of text. It recognises a CSV file's encoding and
// separator by itself, reads formulas as the values last computed for them, and bounds what a hostile file can cost.
package spreadsheet

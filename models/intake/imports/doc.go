// Package imports takes in what farms keep in spreadsheets: crew sheets, and the workers, blocks and rates that they rest on. A file is read, its
// columns are matched to fields, and every row is checked before anything is stored; what may mean two things is asked, not guessed. The
// identifiers of what is stored follow from the file's reference and the row, so that the same file twice is stored once.
package imports

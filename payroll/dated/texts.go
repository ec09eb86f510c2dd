package dated

import "embed"

// Texts returns the files at the top of an embedded folder, by name.
func Texts(files embed.FS) map[string][]byte {
	texts := map[string][]byte{}
	entries, err := files.ReadDir(".")
	if err != nil {
		panic(err) // the files are part of the binary
	}
	for _, e := range entries {
		if texts[e.Name()], err = files.ReadFile(e.Name()); err != nil {
			panic(err)
		}
	}
	return texts
}

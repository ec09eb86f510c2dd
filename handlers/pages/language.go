package pages

import (
	"slices"

	"palmero/handlers/text"
)

// chosenLanguage is the one that was chosen on this device, "" where none was.
func (v *visit) chosenLanguage() string {
	if chosen := v.readCookie(languageCookie); slices.Contains(text.Languages(), chosen) {
		return chosen
	}
	return ""
}

// switchLanguage remembers on this device which language to speak, and goes back to the page that was read.
func switchLanguage(v *visit) (*answer, error) {
	f, err := v.form("language", "to")
	if err != nil {
		return nil, err
	}
	if chosen := f.Value("language"); slices.Contains(text.Languages(), chosen) {
		v.setCookie(languageCookie, chosen, year)
	}
	return seeOther(within(f.Value("to")), ""), nil
}

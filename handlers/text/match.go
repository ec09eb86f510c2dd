package text

import "golang.org/x/text/language"

// maxHeader bounds how much of an Accept-Language header is looked at.
const maxHeader = 256

var matcher = language.NewMatcher([]language.Tag{language.English, language.Spanish})

// Match chooses the language to speak: that of the first of preferred which is one of ours, in whatever dialect (what the
// reader asked for by name, what their account says), else the best by an Accept-Language header, else English.
func Match(acceptLanguage string, preferred ...string) string {
	for _, p := range preferred {
		if lang, ok := best(p); ok {
			return lang
		}
	}
	lang, _ := best(acceptLanguage)
	return lang
}

func best(wanted string) (lang string, ok bool) {
	tags, _, err := language.ParseAcceptLanguage(wanted[:min(len(wanted), maxHeader)])
	if err != nil || len(tags) == 0 {
		return English, false
	}
	_, i, confidence := matcher.Match(tags...)
	return Languages()[i], confidence > language.No
}

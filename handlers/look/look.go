// Package look holds the colours that everything of Palmero's which is looked at shares.
package look

import _ "embed" // for the palette

// Palette is a style sheet that names the colours. Against paper and leaf, ink, dim, palm and stop have a contrast of 7 to 1 at least
// (WCAG 2.2, success criterion 1.4.6), since they are read in bright sun.
//
//go:embed palette.css
var Palette string

package pages

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"net/http"
	"path"
	"strings"

	"github.com/gin-gonic/gin"

	"palmero/handlers/documents"
	"palmero/handlers/look"
	"palmero/handlers/rulebooks"
)

//go:embed assets
var assetFiles embed.FS

const assetPath = "/assets/"

// assets are what pages are made of beside their words: each under a name that holds its digest, so that browsers may keep it for good.
type assets struct {
	named  map[string]string // "page.js" → "page.0f3a….js"
	served map[string]asset
}

type asset struct {
	media        string
	plain, short []byte // as it is, and compressed; short is nil where that gains nothing
}

var mediaTypes = map[string]string{
	".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml",
}

func readAssets() (*assets, error) {
	a := &assets{named: map[string]string{}, served: map[string]asset{}}
	entries, err := assetFiles.ReadDir("assets")
	if err != nil {
		return nil, err
	}
	for _, e := range entries {
		content, err := assetFiles.ReadFile("assets/" + e.Name())
		if err != nil {
			return nil, err
		}
		if e.Name() == "style.css" { // one style sheet for everything: the colours, the statement's, the rulebook's, the pages'
			content = []byte(look.Palette + documents.StatementStyle() + rulebooks.Style() + string(content))
		}
		if err := a.add(e.Name(), content); err != nil {
			return nil, err
		}
	}
	return a, nil
}

func (a *assets) add(name string, content []byte) error {
	sum := sha256.Sum256(content)
	ext := path.Ext(name)
	served := strings.TrimSuffix(name, ext) + "." + hex.EncodeToString(sum[:6]) + ext
	var b bytes.Buffer
	z, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
	if err != nil {
		return err
	}
	if _, err := z.Write(content); err != nil {
		return err
	}
	if err := z.Close(); err != nil {
		return err
	}
	one := asset{media: mediaTypes[ext], plain: content}
	if b.Len() < len(content) {
		one.short = b.Bytes()
	}
	a.named[name], a.served[served] = assetPath+served, one
	return nil
}

// serve answers with an asset. What is named anew when it changes may be kept for good.
func (a *assets) serve(c *gin.Context) {
	one, ok := a.served[c.Param("name")]
	if !ok {
		c.Header("Cache-Control", "no-store")
		c.String(http.StatusNotFound, "")
		return
	}
	c.Header("Cache-Control", "public, max-age=31536000, immutable")
	c.Header("Vary", "Accept-Encoding")
	body := one.plain
	if one.short != nil && takesGzip(c) {
		c.Header("Content-Encoding", "gzip")
		body = one.short
	}
	c.Data(http.StatusOK, one.media, body)
}

package pages

import (
	"bytes"
	"compress/gzip"
	"net/url"
	"strings"
	"sync"

	"github.com/gin-gonic/gin"
)

// Pages go out compressed, where the browser takes that and the page was asked for from one of ours. How long a compressed page is tells somebody on the line what stands in it twice, so that a
// guess which another site has put into the address could be tried against the names and sums on the page. Such a visit gets the page as it is. Nothing on a page is a credential: the session is in a
// cookie that no page shows, a form's identifier is made anew for every page, and a form of another site is refused.

// worthShortening is the least number of bytes that are compressed.
const worthShortening = 1 << 10

var gzips = sync.Pool{New: func() any {
	z, err := gzip.NewWriterLevel(nil, gzip.BestSpeed)
	if err != nil {
		panic(err) // there is no such level
	}
	return z
}}

// shortened is the body as it goes out, and how it is encoded: "" as it is.
func (v *visit) shortened(body []byte) ([]byte, string) {
	if len(body) < worthShortening || !takesGzip(v.gin) || !v.fromHere() {
		return body, ""
	}
	var b bytes.Buffer
	b.Grow(len(body) / 4)
	z := gzips.Get().(*gzip.Writer)
	defer gzips.Put(z)
	z.Reset(&b)
	if _, err := z.Write(body); err != nil {
		return body, ""
	}
	if err := z.Close(); err != nil {
		return body, ""
	}
	return b.Bytes(), "gzip"
}

// takesGzip tells whether the browser reads what is compressed (RFC 9110 section 12.5.3).
func takesGzip(c *gin.Context) bool {
	for one := range strings.SplitSeq(c.GetHeader("Accept-Encoding"), ",") {
		name, weight, _ := strings.Cut(strings.TrimSpace(one), ";")
		if name == "gzip" {
			return strings.Trim(strings.TrimPrefix(strings.TrimSpace(weight), "q="), "0.") != "" || weight == ""
		}
	}
	return false
}

// fromHere tells whether the reader came by a page of ours, a bookmark or the address bar. Browsers that do not say so tell the page that they come from; ours have them tell it to ourselves alone.
func (v *visit) fromHere() bool {
	switch v.gin.GetHeader("Sec-Fetch-Site") {
	case "same-origin", "none":
		return true
	case "":
		from, err := url.Parse(v.gin.GetHeader("Referer"))
		return err == nil && from.Host != "" && from.Host == v.gin.Request.Host
	}
	return false
}

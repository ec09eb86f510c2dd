package handlers

import (
	"encoding/json"
	"net/http"

	"github.com/google/uuid"

	"palmero/models"
)

// reply is what a handler answers. Its status is the route's, unless it is a repeat.
type reply struct {
	body     any    // written as JSON, where raw is nil
	raw      []byte // a document already rendered, of the type mediaType
	media    string
	version  int64 // becomes the ETag; 0: none
	location string
	repeated bool // whether the same was done before; then the status is 200
	header   http.Header
}

// plain answers with a document.
func plain(body any) *reply { return &reply{body: body} }

// nothing answers without a body.
func nothing() *reply { return &reply{} }

// document answers with bytes of a media type.
func document(media string, raw []byte) *reply { return &reply{raw: raw, media: media} }

// keptReply answers with a record of the set-up, shown as view has it.
func keptReply[C any](k *models.Kept[C], view any) *reply {
	return &reply{body: view, version: k.Version}
}

// at names where what was created can be read.
func (r *reply) at(path string, id uuid.UUID, repeated bool) *reply {
	r.location, r.repeated = path+"/"+id.String(), repeated
	return r
}

// render writes a reply.
func (rq *request) render(route Route, r *reply) {
	data := r.raw
	media := r.media
	if data == nil && r.body != nil {
		var err error
		if data, err = json.Marshal(r.body); err != nil {
			rq.fail(err)
			return
		}
		media = "application/json"
	}
	for name, values := range r.header {
		rq.gin.Writer.Header()[name] = values
	}
	if r.version > 0 {
		rq.gin.Header("ETag", etag(r.version))
	}
	status := route.Status
	if r.repeated {
		status = http.StatusOK
		rq.gin.Header("Repeated", "true")
	}
	if r.location != "" {
		rq.gin.Header("Location", r.location)
	}
	if data == nil {
		rq.gin.Status(status)
		rq.gin.Writer.WriteHeaderNow()
		return
	}
	rq.gin.Data(status, media, data)
}

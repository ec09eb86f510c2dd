package pages

import (
	"errors"
	"io"
	"mime/multipart"
	"net/http"
	"path/filepath"
	"strings"

	"palmero/handlers/failures"
)

// sentFile is a file as it was sent; without a name where none was chosen.
type sentFile struct {
	name string
	data []byte
}

// upload reads a form with a file in one of its fields, of which no more than one byte over the most is kept: so a file that is too large can be told beside its field.
func (v *visit) upload(name string, most int64, fields ...string) (*Form, sentFile, error) {
	request := v.gin.Request
	if err := request.ParseMultipartForm(most); err != nil && !errors.Is(err, http.ErrNotMultipart) {
		return nil, sentFile{}, notReadable(err)
	}
	f, err := v.form(fields...)
	if err != nil {
		return nil, sentFile{}, err
	}
	part, header, err := request.FormFile(name)
	if errors.Is(err, http.ErrMissingFile) || errors.Is(err, http.ErrNotMultipart) {
		return f, sentFile{}, nil
	}
	if err != nil {
		return nil, sentFile{}, notReadable(err)
	}
	data, err := io.ReadAll(io.LimitReader(part, most+1))
	if err = errors.Join(err, part.Close(), request.MultipartForm.RemoveAll()); err != nil {
		return nil, sentFile{}, err
	}
	return f, sentFile{filepath.Base(strings.ReplaceAll(header.Filename, `\`, "/")), data}, nil
}

// notReadable is the failure of a body that is too large or breaks off.
func notReadable(err error) error {
	var tooLarge *http.MaxBytesError
	if errors.As(err, &tooLarge) || errors.Is(err, multipart.ErrMessageTooLarge) {
		return failures.Of(http.StatusRequestEntityTooLarge)
	}
	f := failures.Of(http.StatusBadRequest)
	f.Cause = err
	return f
}

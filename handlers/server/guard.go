package server

import (
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"runtime/debug"

	"github.com/gin-gonic/gin"
)

// Recovery turns a panic into status 500 without detail, and logs it once with where it happened. If the answer has
// begun, the connection is cut instead, lest half an answer pass for a whole one.
func Recovery(log *slog.Logger, problem func(c *gin.Context, status int)) gin.HandlerFunc {
	return func(c *gin.Context) {
		defer func() {
			cause := recover()
			if cause == nil {
				return
			}
			if err, ok := cause.(error); ok && errors.Is(err, http.ErrAbortHandler) {
				panic(cause)
			}
			log.Error("panic", "cause", fmt.Sprint(cause), "route", route(c), "request_id", RequestID(c), "stack", string(debug.Stack()))
			if c.Writer.Written() {
				panic(http.ErrAbortHandler)
			}
			c.Abort()
			problem(c, http.StatusInternalServerError)
		}()
		c.Next()
	}
}

// SecurityHeaders sets what suits an API whose answers are about wages: not framed, not sniffed, not kept by caches,
// not told to other sites. A handler that renders a page puts its own Content-Security-Policy in place of this one.
func SecurityHeaders() gin.HandlerFunc {
	return func(c *gin.Context) {
		c.Header("X-Content-Type-Options", "nosniff")
		c.Header("X-Frame-Options", "DENY")
		c.Header("Referrer-Policy", "no-referrer")
		c.Header("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'")
		c.Header("Cross-Origin-Resource-Policy", "same-origin")
		c.Header("Cache-Control", "no-store")
		if c.Request.TLS != nil {
			c.Header("Strict-Transport-Security", "max-age=31536000")
		}
		c.Next()
	}
}

// BodyLimit refuses a request that announces a body over limit bytes, and ends the reading of one that does not announce it
// with an [http.MaxBytesError]. Routes that take more, by method and path as gin has them, are named in more.
func BodyLimit(limit int64, more map[string]int64, problem func(c *gin.Context, status int)) gin.HandlerFunc {
	return func(c *gin.Context) {
		limit := max(limit, more[c.Request.Method+" "+c.FullPath()])
		if c.Request.ContentLength > limit {
			c.Header("Connection", "close")
			c.Abort()
			problem(c, http.StatusRequestEntityTooLarge)
			return
		}
		c.Request.Body = http.MaxBytesReader(c.Writer, c.Request.Body, limit)
		c.Next()
	}
}

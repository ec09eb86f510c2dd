package handlers

import "maps"

func init() {
	maps.Copy(allowed, map[string]string{"GET /api/v1/review": "sa"})
}

# "make test" is the whole battery, the same here and everywhere; the other targets are parts of it and conveniences.

SHELL := /bin/bash
.SHELLFLAGS := -euo pipefail -c
.NOTPARALLEL:
.DEFAULT_GOAL := build

# The packages that are tested with the race detector too: the engines, the handlers and the store, on PostgreSQL, where writers really run side by side.
RACED := /(payroll|safety|handlers)(/|$$)|/models$$|/models/(access|intake|payrun)$$
FUZZTIME ?= 60s

.PHONY: build test prepare lint race plain fuzz fuzz-briefly bench fmt demo

build: ## the program, into bin/
	go build -o bin/palmero ./cmd/palmero

test: prepare lint plain race fuzz-briefly ## everything; installs what it needs where it may

prepare:
	.ci/prepare

lint: ## format, vet and linters
	.ci/lint/run

# Lint has vetted already.
race:
	go test -race -vet=off -timeout 40m $$(go list ./... | grep -E '$(RACED)')

plain: ## everything on both databases, without the race detector
	go test -vet=off -timeout 40m ./...

fuzz: ## every fuzz test, FUZZTIME (60s) each
	.ci/fuzz $(FUZZTIME)

fuzz-briefly:
	.ci/fuzz briefly

bench: ## every benchmark
	go test -run '^$$' -bench . -benchmem ./...

fmt: ## format the code
	gofmt -w $$(git ls-files --cached --others --exclude-standard '*.go')

demo: ## a server with an invented garden to look at
	go run ./cmd/palmero demo

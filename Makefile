# build, demo and test need Go, git and make. race needs a C compiler besides.
# generate, generate-check, lint and breaking need npm besides, which brings buf.

BUF_VERSION := 1.75.0
BUF := .tools/buf-$(BUF_VERSION)/node_modules/.bin/buf
TOOL := go tool -modfile=tools/go.mod

FUZZTIME ?= 10s
BENCHCOUNT ?= 5
AGAINST ?= main

# One build, with or without a C compiler on the machine.
export CGO_ENABLED := 0
# A rule plugin's digest follows its code, not the commit it was built at; and
# a checkout that belongs to another user builds.
export GOFLAGS := $(GOFLAGS) -buildvcs=false

# Each folder of plugins with a main package, but the one to copy and the ones
# that misbehave for tests.
RULE_SETS := $(filter-out template faulty,$(sort $(notdir $(patsubst %/,%,$(dir \
	$(shell grep -l '^package main$$' plugins/*/*.go 2>/dev/null))))))
# A rule set that was taken out of the tree must not go on deciding.
STALE = $(filter-out $(RULE_SETS:%=bin/rules/%),$(wildcard bin/rules/*))

# The go command passes over folders named testdata unless they are named.
PACKAGES := ./... ./testdata/checks ./testdata/open/... ./testdata/demo/...

.DEFAULT_GOAL := help
.PHONY: help build demo test race fuzz bench generate generate-check \
	lint lint-go lint-docs lint-proto breaking clean distclean

help: ## list the targets
	@awk -F ':.*## ' '/^[a-z-]+:.*## / { printf "  %-16s%s\n", $$1, $$2 }' $(MAKEFILE_LIST)

build: ## build the server, the client and the rule plugins into bin/
	go build -o bin/rootwardd ./server/cmd/rootwardd
	go build -o bin/rootward ./client/cmd/rootward
	@mkdir -p bin/rules
	$(if $(STALE),rm -rf $(STALE))
	$(if $(RULE_SETS),go build -o bin/rules/ $(RULE_SETS:%=./plugins/%))

demo: build ## prescribe the demo inventory; results in out/
	./testdata/demo/demo.sh

test: ## vet and test everything (TESTFLAGS=-count=1 for no cached results)
	go vet $(PACKAGES)
	go test $(TESTFLAGS) $(PACKAGES)
	go -C tools test $(TESTFLAGS) ./...

race: ## test with the race detector (-short: fewer of the million stems)
	@command -v "$$(go env CC | cut -d ' ' -f 1)" >/dev/null || { \
		echo "No C compiler was found, and the race detector links with one: install gcc or clang, or set CC." >&2; \
		exit 1; }
	CGO_ENABLED=1 go test -race -short $(TESTFLAGS) $(PACKAGES)

fuzz: ## run each fuzz target for FUZZTIME (10s)
	@listed=$$(go test -list '^Fuzz' ./...) || { echo "$$listed"; exit 1; }; \
	echo "$$listed" | \
	awk '/^Fuzz/ { name[n++] = $$1 } /^ok/ { for (i = 0; i < n; i++) print $$2, name[i]; n = 0 }' | \
	while read -r package name; do \
		echo "== $$package $$name"; \
		go test -run '^$$' -fuzz "^$$name\$$" -fuzztime $(FUZZTIME) -fuzzminimizetime 0s "$$package" || exit 1; \
	done

bench: ## run each benchmark BENCHCOUNT (5) times
	go test -run '^$$' -bench . -benchmem -count $(BENCHCOUNT) ./...

generate: $(BUF) ## write proto/gen from the .proto files
	$(BUF) generate

generate-check: $(BUF) ## check that proto/gen is what the .proto files generate
	@fresh=$$(mktemp -d) || exit 1; trap 'rm -rf "$$fresh"' EXIT; \
	$(BUF) generate --output "$$fresh" || exit 1; \
	diff -r -q proto/gen "$$fresh/proto/gen" || { \
		echo "proto/gen is not what the .proto files generate: run 'make generate' and commit proto/gen." >&2; \
		exit 1; }

lint: lint-go lint-docs lint-proto ## check form: Go, links between documents, protos

lint-go:
	@unformatted=$$(gofmt -l .); test -z "$$unformatted" || { \
		echo "Not formatted, run 'gofmt -w' on: $$unformatted" >&2; exit 1; }
	go vet $(PACKAGES)
	go -C tools vet ./...
	$(TOOL) staticcheck $(PACKAGES)
	go -C tools tool staticcheck ./...

lint-docs:
	go -C tools run ./linkcheck ..

lint-proto: $(BUF)
	$(BUF) lint
	$(BUF) format proto --diff --exit-code

breaking: $(BUF) ## check that the protos break no reader of branch AGAINST (main)
	@if git cat-file -e '$(AGAINST):buf.yaml' 2>/dev/null; then \
		$(BUF) breaking --against '.git#branch=$(AGAINST)'; \
	else \
		echo "Branch $(AGAINST) has no protos yet: nothing to break."; \
	fi

clean: ## remove what the build and the demo wrote
	rm -rf bin out

distclean: clean ## remove the fetched tools too
	rm -rf .tools

$(BUF):
	@command -v npm >/dev/null || { \
		echo "npm was not found: it brings buf $(BUF_VERSION), which checks and generates the protos. Install Node.js with npm; build, demo, test and race do without." >&2; \
		exit 1; }
	npm install --prefix .tools/buf-$(BUF_VERSION) --no-save --no-package-lock --no-audit --no-fund --loglevel=error @bufbuild/buf@$(BUF_VERSION)

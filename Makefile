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

# A server reads all of a plugin to hold it against its signature: without what debuggers
# want, and without gRPC's pages for browsers, for which the linker keeps every exported
# method, it is half as large.
PLUGIN_FLAGS := -ldflags='-s -w' -tags grpcnotrace

# The compiler optimises server and client by a profile of a stream and of a file, which
# make guide makes anew. Tests are built without it: it takes the compiler longer.
GUIDE := server/cmd/rootwardd/guide.pgo
GUIDED := -pgo=$(GUIDE)

# Each folder of plugins with a main package, but the one to copy, those that show
# what a rule or a text file can say, and the ones that misbehave for tests.
RULE_SETS := $(filter-out template kinds tablefile faulty hostile,$(sort $(notdir $(patsubst %/,%,$(dir \
	$(shell grep -l '^package main$$' plugins/*/*.go 2>/dev/null))))))
# A rule set that was taken out of the tree must not go on deciding.
STALE = $(filter-out $(RULE_SETS:%=bin/rules/%) $(RULE_SETS:%=bin/rules/%.release) %/trust.yaml %/rules.lock,$(wildcard bin/rules/*))

# The go command passes over folders named testdata unless they are named.
PACKAGES := ./... ./testdata/checks ./testdata/open/... ./testdata/demo/... ./testdata/many/... ./testdata/kills

.DEFAULT_GOAL := help
.PHONY: help build plugin demo test test-python test-water test-postgres test-kills race fuzz bench bench-scaling bench-go guide generate generate-check \
	lint lint-go lint-docs lint-proto breaking clean distclean

help: ## list the targets
	@awk -F ':.*## ' '/^[a-z-]+:.*## / { printf "  %-16s%s\n", $$1, $$2 }' $(MAKEFILE_LIST)

build: ## build the server, the client and the rule plugins into bin/
	go build $(GUIDED) -o bin/rootwardd ./server/cmd/rootwardd
	go build $(GUIDED) -o bin/rootward ./client/cmd/rootward
	@mkdir -p bin/rules
	$(if $(STALE),rm -rf $(STALE))
	$(if $(RULE_SETS),go build $(PLUGIN_FLAGS) -o bin/rules/ $(RULE_SETS:%=./plugins/%))
	./plugins/sign.sh bin/rootward bin/keys bin/rules
	go build -o bin/tablefile ./plugins/tablefile

FROM ?= template
# What a set to copy calls itself: its folder's name, but for the template.
OLD = $(if $(filter template,$(FROM)),new-district,$(FROM))

plugin: ## make, test and build a rule set of your own: NAME=my-district [FROM=template]
	@printf '%s\n' '$(NAME)' | grep -qxE '[a-z][a-z0-9]*(-[a-z0-9]+)*' || { \
		echo "NAME is '$(NAME)'; name the rule set in small letters, digits and hyphens: make plugin NAME=my-district" >&2; exit 1; }
	@test -d 'plugins/$(NAME)' || { \
		grep -qs '"$(OLD)"' plugins/$(FROM)/*.go || { \
			echo "plugins/$(FROM) holds no rule set of its own to copy; leave FROM out for the template" >&2; exit 1; }; \
		mkdir 'plugins/$(NAME)' || exit 1; \
		for f in plugins/$(FROM)/*.go; do \
			name=$$(basename "$$f"); case "$$name" in *_test.go) name=table_test.go;; esac; \
			sed 's/$(OLD)/$(NAME)/g' "$$f" > "plugins/$(NAME)/$$name" || exit 1; \
		done; \
		{ echo '// Command $(NAME) is the rule set of $(NAME).'; sed -n '/^package/,$$p' plugins/$(FROM)/main.go; } > 'plugins/$(NAME)/main.go'; \
		echo 'plugins/$(NAME) is made from plugins/$(FROM).'; }
	go test './plugins/$(NAME)'
	@mkdir -p bin/plugins
	go build $(PLUGIN_FLAGS) -o 'bin/plugins/$(NAME)' './plugins/$(NAME)'
	@! grep -n 'New District' plugins/'$(NAME)'/*.go || echo '! These are the words of an invented district. Put your own title, publisher and citations there: rules sign refuses what has not its own.'
	@echo; echo 'The tests of plugins/$(NAME) pass, and bin/plugins/$(NAME) is built. Next:'; \
	echo '  edit plugins/$(NAME)/table.go: whose rules they are, the rows, and a worked case for each side of each limit'; \
	echo '  run make plugin NAME=$(NAME) again, until its tests pass; they say which cases are missing'; \
	echo '  sign it and put it into force as docs/authors-guide.md says'

demo: build ## prescribe the demo inventory, and fight for one of its sites through three seasons; results in out/
	./testdata/demo/demo.sh
	./testdata/campaign/campaign.sh

test: ## vet and test everything (TESTFLAGS=-count=1 for no cached results)
	go vet $(PACKAGES)
	go test $(TESTFLAGS) $(PACKAGES)
	GODEBUG=cpu.avx2=off go test $(TESTFLAGS) -run 'Lines|Rows|Blocks' ./client/inventory
	go -C tools test $(TESTFLAGS) ./...
	go -C bench test $(TESTFLAGS) ./agreement

race: ## test with the race detector (-short: fewer of the million stems)
	@command -v "$$(go env CC | cut -d ' ' -f 1)" >/dev/null || { \
		echo "No C compiler was found, and the race detector links with one: install gcc or clang, or set CC." >&2; \
		exit 1; }
	CGO_ENABLED=1 go test -race -short $(TESTFLAGS) $(PACKAGES)

PYTHON_PACKAGES := python3-grpcio python3-protobuf python3-cryptography

test-python: ## test the rule plugin in Python (installs Debian's packages where they are wanting)
	@/usr/bin/python3 -c 'import grpc, google.protobuf, cryptography' 2>/dev/null || { \
		apt-get update -q && apt-get install -y -q --no-install-recommends $(PYTHON_PACKAGES); } || { \
		echo "Install $(PYTHON_PACKAGES) by hand: this needs Debian and root." >&2; exit 1; }
	ROOTWARD_TEST_PYTHON=1 go test $(TESTFLAGS) ./plugins/python/...
	ROOTWARD_TEST_PYTHON=1 go test $(TESTFLAGS) -run Python ./server/rulehost

test-postgres: ## test the stores on PostgreSQL (installs Debian's package where it is wanting)
	@ls /usr/lib/postgresql/*/bin/initdb >/dev/null 2>&1 || { \
		apt-get update -q && apt-get install -y -q --no-install-recommends postgresql; } || { \
		echo "Install Debian's postgresql by hand: this needs Debian and root." >&2; exit 1; }
	ROOTWARD_TEST_POSTGRES=1 go test $(TESTFLAGS) ./server/store/... ./testdata/kills

KILLS ?= 200

test-kills: ## kill servers KILLS (200) times in the middle of a batch, on both stores
	ROOTWARD_TEST_POSTGRES=1 ROOTWARD_TEST_KILLS=$(KILLS) \
		go test -count=1 -timeout 60m -v $(TESTFLAGS) -run 'TestKilled' ./server/store
	ROOTWARD_TEST_POSTGRES=1 ROOTWARD_TEST_KILLS=$(KILLS) go test -count=1 -timeout 2h -v $(TESTFLAGS) ./testdata/kills

WATER_PACKAGES := geographiclib-tools gmt-gshhg-high gdal-bin postgresql postgresql-15-postgis-3

test-water: ## test distances to water against GeographicLib, PostGIS and GDAL (installs Debian's packages where they are wanting)
	@{ command -v GeodSolve && command -v ogr2ogr && ls /usr/share/gmt-gshhg/binned_river_h.nc \
		/usr/share/postgresql/15/extension/postgis.control /usr/lib/postgresql/15/bin/initdb; } >/dev/null 2>&1 || { \
		apt-get update -q && apt-get install -y -q --no-install-recommends $(WATER_PACKAGES); } || { \
		echo "Install $(WATER_PACKAGES) by hand: this needs Debian and root." >&2; exit 1; }
	ROOTWARD_TEST_WATER=1 go test -v $(TESTFLAGS) -run 'Against(GeodSolve|PostGIS)|OfGDAL' ./server/water

fuzz: ## run each fuzz target for FUZZTIME (10s)
	@listed=$$(go test -list '^Fuzz' ./...) || { echo "$$listed"; exit 1; }; \
	echo "$$listed" | \
	awk '/^Fuzz/ { name[n++] = $$1 } /^ok/ { for (i = 0; i < n; i++) print $$2, name[i]; n = 0 }' | \
	while read -r package name; do \
		echo "== $$package $$name"; \
		go test -run '^$$' -fuzz "^$$name\$$" -fuzztime $(FUZZTIME) -fuzzminimizetime 0s "$$package" || exit 1; \
	done

BENCH_PACKAGES := postgresql postgresql-15-postgis-3 geographiclib-tools

bench: ## measure what the program must reach against its peers (BENCH_FAST=1: a quick look; installs Debian's packages where they are wanting)
	@ls /usr/lib/postgresql/*/lib/postgis-3.so >/dev/null 2>&1 && command -v GeodSolve >/dev/null || { \
		apt-get update -q && apt-get install -y -q --no-install-recommends $(BENCH_PACKAGES); } || \
		echo "Without $(BENCH_PACKAGES) some lines are not measured: installing them needs Debian and root." >&2
	CGO_ENABLED=1 go -C bench test -count=1 ./...
	CGO_ENABLED=1 go -C bench run -pgo=../$(GUIDE) .

guide: ## profile the programs for the compiler (after a change to where their time goes)
	CGO_ENABLED=1 go -C bench run . -guide ../$(GUIDE)

bench-scaling: ## measure how time grows with rows, rules, edges and cores
	CGO_ENABLED=1 go -C bench run -pgo=../$(GUIDE) . -scaling
	CGO_ENABLED=1 go -C bench run -pgo=../$(GUIDE) . -scaling -cores 1

bench-go: ## run each benchmark of the Go packages BENCHCOUNT (5) times
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

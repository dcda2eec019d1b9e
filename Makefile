# Frywright. `make demo` shows it, `make test` proves it.

SHELL := bash
.SHELLFLAGS := -euo pipefail -c
.DEFAULT_GOAL := help
.DELETE_ON_ERROR:
MAKEFLAGS += --no-builtin-rules --no-print-directory

# The program holds no C; one setting for everything but the race detector keeps one build cache.
export CGO_ENABLED := 0

# The newest patch of Go that go.mod names, whatever this machine has: what it mends in the standard library is ours too.
export GOTOOLCHAIN := $(shell sed -n 's/^toolchain //p' go.mod)

# How long each fuzz target runs in `make test`, and how `time` tells what a step took.
FUZZTIME ?= 3s
export TIMEFORMAT := -- took %lR

# Packages where goroutines meet, for the race detector.
RACE := ./store/... ./web/... ./cmd/frywright

# Tests that do thousands of things, one after another: there is nothing in them for the race detector, and `unit` runs them.
ALONE := ^Test(No(Field|File|Path|Query|Envelope|SignIn)Breaks|TheBench|TheDemosYear|TheInventedFleet|TenThousandFields)

.PHONY: help
help: ## list the targets
	@grep -hE '^[a-z0-9-]+:.*## ' $(MAKEFILE_LIST) | sed -E 's/:.*## /\t/' | expand -t 14

.PHONY: demo
demo: build ## build everything and serve an invented fleet; ARGS="..." are handed on
	bin/frywright demo $(ARGS)

.PHONY: build
build: static templates binary ## build everything

.PHONY: static
static: node_modules/.package-lock.json ## build static/dist: styles, scripts, fonts
	npm run --silent build

node_modules/.package-lock.json: package.json package-lock.json
	npm ci --no-audit --no-fund
	@touch $@

.PHONY: binary
binary: ## build bin/frywright from what is generated already
	go build -o bin/frywright ./cmd/frywright

.PHONY: templates
templates: ## write the *_templ.go files
	go tool templ generate -log-level warn

.PHONY: generate
generate: build ## write everything that is generated and committed
	bin/frywright schema >store/schema.sql.new
	mv store/schema.sql.new store/schema.sql

.PHONY: fmt
fmt: bin/golangci-lint ## format Go sources and templates
	bin/golangci-lint fmt
	go tool templ fmt -prettier-command cat web

bin/golangci-lint: tools/lint/go.mod tools/lint/go.sum
	go -C tools/lint build -o ../../bin/golangci-lint github.com/golangci/golangci-lint/v2/cmd/golangci-lint

bin/govulncheck: tools/vuln/go.mod tools/vuln/go.sum
	go -C tools/vuln build -o ../../bin/govulncheck golang.org/x/vuln/cmd/govulncheck

bin/pebble: tools/acme/go.mod tools/acme/go.sum
	go -C tools/acme build -o ../../bin/pebble github.com/letsencrypt/pebble/v2/cmd/pebble

# Modules of tools/ that hold Go of our own; those that only pin another's program have nothing to vet.
TOOLS := $(sort $(dir $(wildcard tools/*/*.go)))

# The database is a pinned module: the same tree gets the same answer, and no web site is asked. tools/vuln/go.mod says how to move it.
.PHONY: vuln
vuln: static bin/govulncheck ## known vulnerabilities that the program reaches, in its modules and in Go itself
	db="$$(go -C tools/vuln mod download -json golang.org/x/vulndb | sed -n 's/.*"Dir": "\(.*\)".*/\1/p')"; \
	for dir in . $(TOOLS); do bin/govulncheck -C "$$dir" -db "file://$$db/data/osv" ./...; done

.PHONY: check
check: static bin/golangci-lint ## look at the sources: what is generated, imports, habits, linters; writes nothing
	go mod tidy -diff
	go tool templ generate -check -log-level warn
	$(MAKE) binary
	bin/frywright schema | diff -u store/schema.sql - || { echo 'store/schema.sql is out of date: make generate'; exit 1; }
	go test ./internal/house
	go vet ./...
	for dir in $(TOOLS); do go -C "$$dir" vet ./...; done
	bin/golangci-lint run
	$(MAKE) vuln
	npm run --silent --if-present check
	$(MAKE) clean-tree

# While somebody works here the tree may be dirty; in continuous integration nothing may have been changed or left behind.
.PHONY: clean-tree
clean-tree:
	@if [[ "$${CI:-}" == true ]] && git rev-parse --git-dir >/dev/null; then \
		git status --porcelain; test -z "$$(git status --porcelain)"; \
	fi

.PHONY: unit
unit: static bin/pebble ## all tests but those in a browser
	go test $$(go list ./... | grep -v '/e2e')
	npm test --silent --if-present

.PHONY: race
race: static bin/pebble ## the tests of the packages where goroutines meet, under the race detector
	CGO_ENABLED=1 go test -race -skip '$(ALONE)' $(RACE)

.PHONY: fuzz
fuzz: static ## every fuzz target for FUZZTIME (3s)
	tools/fuzz.sh $(FUZZTIME)

.PHONY: e2e
e2e: static binary ## the tests in a browser, on the real program
	go test -count=1 -timeout 15m ./e2e/...

bin/litestream: tools/replicate/go.mod tools/replicate/go.sum
	go -C tools/replicate build -o ../../bin/litestream github.com/benbjohnson/litestream/cmd/litestream

.PHONY: replicate-drill
replicate-drill: bin/litestream ## stream the log of a server at work, lose its disk, go on from the replica; building takes minutes
	go test -count=1 -tags replicate ./cmd/frywright -run TestReplicatedWhileWriting -v -litestream $(CURDIR)/bin/litestream

.PHONY: programs
programs: ## install what the tests need and this machine has not
	tools/install.sh update-ca-certificates:ca-certificates git:git gcc:gcc,libc6-dev chromium:chromium prlimit:util-linux setpriv:util-linux

.PHONY: test
test: ## everything: checks, tests, race detector, fuzz, browser
	time $(MAKE) programs
	time $(MAKE) check
	time $(MAKE) unit
	time $(MAKE) race
	time $(MAKE) fuzz
	time $(MAKE) e2e
	$(MAKE) clean-tree

# What a run of the bench leaves behind; the tables of DEVELOPERS.md and the plot are made of it.
BENCH := bin/bench.tsv

.PHONY: bench
bench: binary ## measure pages, writes, imports over 1,000, 10,000 and 100,000 fryers, and print the tables: half an hour
	for fryers in 1000 10000 100000; do bin/frywright bench all --fryers $$fryers --out $(BENCH) $(ARGS); done
	bin/frywright bench table $(BENCH)

.PHONY: bench-plot
bench-plot: ## draw how the pages' times grow with the fleet, from what `make bench` measured
	go -C tools/plot run . $(abspath $(BENCH)) $(CURDIR)/static/readme/scale.svg

.PHONY: clean
clean: ## remove what was built
	rm -rf bin node_modules
	find static/dist -mindepth 1 -not -name .gitkeep -delete

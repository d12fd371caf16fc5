# The desk is built, tested and shown from here; 'make' lists how.
# Tests and the program are pure Go; only the race detector needs a C compiler.

GO      ?= go
BIN     := bin/ribdesk
FLAGS   := -trimpath -tags nomsgpack -ldflags "-s -w"
PURE    := CGO_ENABLED=0

# The Go release that go.mod asks for: what is shipped is built by it, and its
# standard library is what 'vuln' looks through.
RELEASE := $(shell sed -n 's/^toolchain //p' go.mod)

# Packages whose work is done by several at once, for the race detector.
RACY    := Rush|Once|Many|Gap|TwoPeople|Another|Hook|Mail|Snapshot|Ask

# The drills that live beside what they break, and where every drill's figures go.
DRILLS  := ^(TestTotalsAddUp|TestFuzzedAsks|TestFuzzedLists|TestFuzzedFiles|TestMalformedRequests|TestKillsInsideAMigration|TestFiftyLostConnections)$$
FIGURES ?= bin/drill.csv

.PHONY: help build demo test check race bench drill soak lint vuln fuzz guide tools clean

help: ## list the targets
	@grep -E '^[a-z]+:.*##' $(MAKEFILE_LIST) | sed -E 's/:.*## /\t/' | expand -t 10

build: ## build bin/ribdesk
	$(PURE) $(GO) build $(FLAGS) -o $(BIN) ./cmd/ribdesk

demo: build ## build, fill an invented shop with three weeks of orders, and serve it
	$(BIN) demo

test: tools check lint vuln race ## everything that CI runs; installs on Debian what is missing
	@echo "make test: all is well"

check: ## format, vet, and all tests
	@unformatted=$$(gofmt -l cmd internal static templates); \
	if [ -n "$$unformatted" ]; then echo "not formatted (gofmt -w): $$unformatted"; exit 1; fi
	$(PURE) $(GO) vet ./...
	GOGC=400 $(PURE) $(GO) test ./internal/web ./internal/desk ./... # the longest first; memory spared costs a quarter of the time

lint: ## staticcheck; fetched from the module proxy when first called
	$(PURE) $(GO) run honnef.co/go/tools/cmd/staticcheck@v0.8.2 ./...

vuln: ## known faults in what is used, by the database as the module proxy has it
	@work=$$(mktemp -d) && trap 'rm -rf "$$work"' EXIT && cd "$$work" && \
	dir=$$($(GO) mod download -json golang.org/x/vulndb@latest | sed -n 's/^.*"Dir": "\(.*\)",$$/\1/p') && \
	if [ -z "$$dir" ]; then echo "the vulnerability database can't be fetched: nothing was checked"; exit 1; fi && \
	echo "known faults as of $${dir##*@}, for $(RELEASE)" && \
	GOBIN="$$work" $(PURE) $(GO) install golang.org/x/vulndb/cmd/indexdb@$${dir##*@} && \
	GOBIN="$$work" $(PURE) $(GO) install golang.org/x/vuln/cmd/govulncheck@v1.9.0 && \
	./indexdb -vulns "$$dir/data/osv" -out "$$work/db" && \
	cd "$(CURDIR)" && GOTOOLCHAIN=$(RELEASE) $(PURE) "$$work/govulncheck" -db "file://$$work/db" ./...

race: ## the tests of what runs in parallel, under the race detector
	CGO_ENABLED=1 $(GO) test -race -short ./internal/store/... ./internal/document
	CGO_ENABLED=1 $(GO) test -race -short -run '$(RACY)' ./internal/desk

bench: ## measure speed and size
	$(PURE) $(GO) test -run '^$$' -bench . -benchmem ./internal/...

drill: ## break the desk at full size and print what is left (about half an hour)
	@mkdir -p $(dir $(FIGURES)) && rm -f $(FIGURES)
	RIBDESK_DRILL=full RIBDESK_FIGURES=$(abspath $(FIGURES)) $(PURE) $(GO) test -count=1 -timeout 90m ./internal/drill
	RIBDESK_DRILL=full RIBDESK_FIGURES=$(abspath $(FIGURES)) $(PURE) $(GO) test -count=1 -timeout 90m -v \
		-run '$(DRILLS)' ./internal/price ./internal/web ./internal/cutlist ./internal/store
	@echo "all figures: $(FIGURES)"

soak: ## mixed load at 100 requests a second (SOAK=60s)
	RIBDESK_SOAK=$${SOAK:-30m} $(PURE) $(GO) test -count=1 -timeout 3h -v -run '^TestSoak$$' ./internal/drill

fuzz: ## ten seconds for each parser of typed text (FUZZTIME=60s for longer)
	@for package in $$($(GO) list ./...); do \
		for f in $$($(PURE) $(GO) test -list '^Fuzz' $$package | grep '^Fuzz'); do \
			echo "$$package $$f"; \
			$(PURE) $(GO) test -run '^$$' -fuzz "^$$f$$" -fuzztime $${FUZZTIME:-10s} $$package || exit 1; \
		done; \
	done

guide: ## take the pictures of the guide anew, from the demo
	RIBDESK_GUIDE=write $(PURE) $(GO) test -count=1 -run '^TestTakeGuidePictures$$' ./internal/web

clean: ## remove what was built
	rm -rf bin

# What the tests call beside Go, as "program=Debian package".
NEEDED := gcc=gcc glpsol=glpk-utils chromium=chromium pdftotext=poppler-utils qpdf=qpdf zbarimg=zbar-tools xmllint=libxml2-utils strace=strace

tools: ## install what the tests need (Debian, as root; else says what is missing)
	@missing=""; \
	for need in $(NEEDED); do \
		command -v $${need%%=*} >/dev/null 2>&1 || missing="$$missing $${need#*=}"; \
	done; \
	ls /usr/lib/postgresql/*/bin/initdb >/dev/null 2>&1 || command -v initdb >/dev/null 2>&1 || missing="$$missing postgresql"; \
	[ -e /usr/include/stdlib.h ] || missing="$$missing libc6-dev"; \
	if [ -z "$$missing" ]; then exit 0; fi; \
	if [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then \
		echo "installing for the tests:$$missing"; \
		apt-get update -q && DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends $$missing; \
	else \
		echo "The tests need some programs that aren't here. On Debian, run:"; \
		echo "  sudo apt-get update && sudo apt-get install -y --no-install-recommends$$missing"; \
		exit 1; \
	fi

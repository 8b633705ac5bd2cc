# gainsieve: `make demo` and `make test` are the two commands; README.md shows what they do.
VERSION := 0.1.0
PREFIX ?= /usr/local
DESTDIR ?=
CC := $(if $(filter default,$(origin CC)),gcc,$(CC))
# SANITIZE=1 is a configuration of its own, beside the usual one.
SANITIZE ?= 0
BUILD ?= $(if $(filter 1,$(SANITIZE)),build/sanitize,build)
JOBS := $(shell nproc 2>/dev/null || echo 2)

# What a build and `make test` need; `make setup` installs what is missing.
PACKAGES := gcc make libc6-dev pkg-config libxml2-dev libcsv-dev libgsl-dev nettle-dev libsqlite3-dev libserialport-dev libcmocka-dev

LIBRARIES := libxml-2.0 gsl sqlite3 libserialport
WARNINGS := -Wall -Wextra -Wpedantic -Wconversion -Wshadow -Wcast-qual -Wwrite-strings -Wvla \
            -Wmissing-prototypes
CFLAGS ?= -O2 -g
# A verdict on the edge may not depend on the compiler or the machine: no fused multiply-adds, which
# gcc 12 makes of complex products all the same unless it may not vectorise them.
ALL_CFLAGS := -std=c17 $(WARNINGS) -Werror -ffp-contract=off -fno-tree-slp-vectorize -pthread $(CFLAGS)
ALL_CPPFLAGS := -D_GNU_SOURCE -I. -DGAINSIEVE_VERSION='"$(VERSION)"' \
                $(shell pkg-config --cflags $(LIBRARIES) 2>/dev/null) $(CPPFLAGS)
LDLIBS := $(shell pkg-config --libs $(LIBRARIES) 2>/dev/null) -lcsv -lnettle -lm
ifeq ($(SANITIZE),1)
ALL_CFLAGS += -fsanitize=address,undefined -fno-sanitize-recover=all -fno-omit-frame-pointer
endif

# V=1 shows the commands.
V ?= 0
Q := $(if $(filter 1,$(V)),,@)
say = $(if $(filter 1,$(V)),,@echo "  $1")

SOURCES := $(wildcard drivers/base/*.c drivers/*.c limits/*.c reports/*.c runner/*.c)
EMBEDDED := $(wildcard limits/*.xsd drivers/*.xsd reports/*.css reports/*.js runner/*.sql)
OBJECTS := $(SOURCES:%.c=$(BUILD)/%.o)
EMBEDDED_OBJECTS := $(foreach f,$(EMBEDDED),$(BUILD)/embedded/$(notdir $(subst .,_,$f)).o)
LIBRARY_OBJECTS := $(filter-out $(BUILD)/runner/main.o,$(OBJECTS)) $(EMBEDDED_OBJECTS)
LIBRARY := $(BUILD)/libgainsieve.a
PROGRAM := $(BUILD)/gainsieve
UNIT_TESTS := $(patsubst %.c,$(BUILD)/%,$(wildcard tests/unit/test_*.c))

all: $(PROGRAM)

$(PROGRAM): $(BUILD)/runner/main.o $(LIBRARY)
	$(call say,link $@)
	$(Q)$(CC) $(ALL_CFLAGS) $(LDFLAGS) -o $@ $^ $(LDLIBS)

$(LIBRARY): $(LIBRARY_OBJECTS)
	$(Q)rm -f $@
	$(Q)ar rcs $@ $^

$(BUILD)/%.o: %.c Makefile
	@mkdir -p $(@D)
	$(call say,compile $<)
	$(Q)$(CC) $(ALL_CPPFLAGS) $(ALL_CFLAGS) -MMD -MP -c -o $@ $<

# A file of the tree as an object: NAME.EXT becomes `const struct embedded NAME_EXT`.
define embed
$(BUILD)/embedded/$(notdir $(subst .,_,$1)).c: $1 Makefile
	@mkdir -p $$(@D)
	$$(Q){ echo '#include "drivers/base/embedded.h"'; \
	  echo 'extern const struct embedded $(notdir $(subst .,_,$1));'; \
	  echo 'static const unsigned char bytes[] = {'; \
	  od -An -v -tu1 $1 | sed 's/ *\([0-9][0-9]*\)/\1,/g'; \
	  echo '0};'; \
	  echo 'const struct embedded $(notdir $(subst .,_,$1)) ='; \
	  echo '    {(const char *)bytes, sizeof bytes - 1};'; } > $$@
endef
$(foreach f,$(EMBEDDED),$(eval $(call embed,$f)))

$(BUILD)/embedded/%.o: $(BUILD)/embedded/%.c
	$(Q)$(CC) $(ALL_CPPFLAGS) $(ALL_CFLAGS) -c -o $@ $<

$(BUILD)/tests/unit/test_%: $(BUILD)/tests/unit/test_%.o $(LIBRARY)
	$(call say,link $@)
	$(Q)$(CC) $(ALL_CFLAGS) $(LDFLAGS) -o $@ $^ $(LDLIBS) -lcmocka

# A pseudo-terminal becomes a serial port for a test that preloads this.
$(BUILD)/tests/pty_shim.so: tests/pty_shim.c Makefile
	@mkdir -p $(@D)
	$(call say,link $@)
	$(Q)$(CC) -D_GNU_SOURCE -std=c17 $(WARNINGS) -Werror -O2 -g -fPIC -shared -o $@ $< -ldl
$(BUILD)/tests/unit/test_link_serial: | $(BUILD)/tests/pty_shim.so

-include $(OBJECTS:.o=.d) $(UNIT_TESTS:=.d)
.PRECIOUS: $(BUILD)/%.o $(BUILD)/embedded/%.c

# Debian packages: install what is missing, say which; without root only say so.
setup:
	@command -v dpkg-query >/dev/null || { echo "setup: not Debian; needed: $(PACKAGES)"; exit 0; }; \
	missing=; for p in $(PACKAGES); do \
	  dpkg-query -W -f='$${Status}' $$p 2>/dev/null | grep -q 'ok installed' || missing="$$missing $$p"; \
	done; \
	[ -n "$$missing" ] || { echo "setup: nothing is missing"; exit 0; }; \
	if [ "$$(id -u)" != 0 ]; then \
	  echo "setup: missing:$$missing"; echo "setup: as root: apt-get install$$missing"; exit 1; \
	fi; \
	echo "setup: installing$$missing"; \
	apt-get update -q >/dev/null && \
	DEBIAN_FRONTEND=noninteractive apt-get install -q -y --no-install-recommends $$missing >/dev/null

# The sub-makes see the packages that setup has just installed.
demo: setup
	@$(MAKE) --no-print-directory -j$(JOBS) all
	@GAINSIEVE=$(PROGRAM) sh docs/demo/run.sh build/demo

test: setup
	@$(MAKE) --no-print-directory -j$(JOBS) all unit-tests
	@$(MAKE) --no-print-directory run-tests

unit-tests: $(UNIT_TESTS)

run-tests: all unit-tests
	@ASAN_OPTIONS=allocator_may_return_null=1 GAINSIEVE=$(PROGRAM) sh tests/run.sh $(UNIT_TESTS)

# The pages in a browser; installs what that needs.
test-browser: all
	@GAINSIEVE=$(PROGRAM) sh tests/browser/run.sh

# Times and sizes against what is promised: of reports, of a unit at the bench, of matching.
bench: all
	@GAINSIEVE=$(PROGRAM) bash tests/perf/bench_report.sh
	@GAINSIEVE=$(PROGRAM) python3 tests/perf/bench_run.py
	@sh tests/perf/bench_match.sh

# The long forms of tests/cli/test_kill.sh and of the storage faults: some minutes.
kills: all
	@GAINSIEVE=$(PROGRAM) python3 tests/fault/kill.py 1000

storage-faults: all
	@GAINSIEVE=$(PROGRAM) python3 tests/fault/storage.py

install: all
	install -d $(DESTDIR)$(PREFIX)/bin $(DESTDIR)$(PREFIX)/share/man/man1 \
	  $(DESTDIR)$(PREFIX)/share/man/man5 $(DESTDIR)$(PREFIX)/share/gainsieve \
	  $(DESTDIR)$(PREFIX)/share/doc/gainsieve
	install -m 755 $(PROGRAM) $(DESTDIR)$(PREFIX)/bin/gainsieve
	install -m 644 limits/limits.xsd drivers/profile.xsd drivers/bench.xsd docs/demo/kittiwake.xml \
	  docs/profiles/*.xml $(DESTDIR)$(PREFIX)/share/gainsieve
# The demo's bench, whose profiles lie beside it here.
	sed 's#"\.\./profiles/#"#' docs/demo/bench.xml >$(DESTDIR)$(PREFIX)/share/gainsieve/bench.xml
	chmod 644 $(DESTDIR)$(PREFIX)/share/gainsieve/bench.xml
	install -m 644 docs/*.md docs/*.svg $(DESTDIR)$(PREFIX)/share/doc/gainsieve
	install -m 644 docs/man/*.1 $(DESTDIR)$(PREFIX)/share/man/man1
	install -m 644 docs/man/*.5 $(DESTDIR)$(PREFIX)/share/man/man5

clean:
	rm -rf build

format:
	clang-format -i $$(git ls-files '*.c' '*.h')

.PHONY: all setup demo test unit-tests run-tests test-browser bench kills storage-faults install clean format

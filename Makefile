# Carnation. `make demo` and `make test` are all that a new user needs; see README.md.

# For whoever builds to set. WERROR=-Werror is for make check and .ci/run: a newer compiler's new
# warning stops no user.
CC = gcc
CFLAGS = -O3 -g
CPPFLAGS =
LDFLAGS =
WERROR ?=

# What the code needs, whatever is set above. No contraction of a * b + c, so that no compiler, -O
# level or -march changes a result. No floating-point traps, which nobody catches here: to keep them
# in order GCC would leave branches in loops and make no vector code of them.
NEEDED = -std=c17 -ffp-contract=off -fno-trapping-math -D_POSIX_C_SOURCE=200809L -D_FILE_OFFSET_BITS=64 -Ilib
# libisal, where it is installed, packs 16-bit pictures in a third of the time; ISAL= builds without it.
ISAL := $(and $(filter /%,$(shell $(CC) -print-file-name=libisal.so)),-lisal)
NEEDED += $(if $(ISAL),-DCARN_ISAL)
# Named whole numbers are enumerations here, also where they meet a double.
WARN = -Wall -Wextra -Wpedantic -Wconversion -Wsign-conversion -Wshadow -Wstrict-prototypes \
       -Wmissing-prototypes -Wformat=2 -Wundef -Wcast-qual -Wpointer-arith -Wno-enum-float-conversion
# --as-needed: a program loads only what it uses. The picture libraries are linked statically where all their
# archives are installed: libtiff's eleven shared libraries took 8 of the 13 ms that a start of carn-decode
# took, and a job starts thousands of programs. So is libcrypto, a third of the start of a job's step.
# ARCHIVES= links them dynamically, as a distribution's package does. (libsharpyuv: a part of libwebp since
# Debian 13; LERC is C++.)
ARCHIVES := $(dir $(shell $(CC) -print-file-name=libtiff.a))
ARCHIVES := $(wildcard $(patsubst %,$(ARCHIVES)lib%.a,png16 tiff webp sharpyuv Lerc jbig zstd lzma deflate jpeg crypto z))
ARCHIVES += $(filter /%,$(shell $(CC) -print-file-name=libstdc++.a))
LIBS = -Wl,--as-needed $(and $(filter %/libtiff.a,$(ARCHIVES)),$(filter %/libstdc++.a,$(ARCHIVES)),-static-libgcc $(ARCHIVES)) $(ISAL) -lpng -ltiff -ljpeg -llcms2 -lexif -lcrypto -lz -lm

B = build
PREFIX = /usr/local
SETUP = scripts/setup
DESTDIR =

TOOLS := $(patsubst tools/%.c,carn-%,$(wildcard tools/*.c))
PROGRAMS := $(TOOLS:%=$(B)/bin/%)
LIBOBJ := $(patsubst lib/%.c,$(B)/lib/%.o,$(wildcard lib/*/*.c))
# What programs look for beside themselves: $(B)/bin/../share/carnation.
DATA := $(filter-out %.md,$(wildcard lib/data/*))
SHARED := $(DATA:lib/data/%=$(B)/share/carnation/%) $(B)/share/carnation/job.mk $(B)/share/carnation/job-parallel $(B)/share/carnation/skin.tsv
# Found by bash-completion under each program's name; made of the options that the programs list.
COMPLETION := $(B)/share/bash-completion/completions/carnation
# Programs that hold filters themselves, and start none (lib/job/filters.h).
HOLDERS := correct job-frame job-group
HELD := $(shell sed -n 's/^    F(.*"carn-\(.*\)").*/\1/p' lib/job/filters.h)
UNITS := $(patsubst tests/%.c,$(B)/tests/%,$(wildcard tests/*.c))
SCENE := $(B)/tests/scene
# The scene generator's tables, beside it in whatever build folder.
SCENEDATA := $(patsubst tests/data/%,$(B)/share/carnation/scene/%,$(wildcard tests/data/*.tsv))
FACES := $(B)/tests/faces
# What lets a program's calls fail, and what runs it so (tests/faults.sh).
FAULTS := $(B)/tests/fault.so $(B)/tests/sweep
# What reads bytes from outside, to run on kept inputs or by libFuzzer (tests/fuzz).
FUZZOBJ := $(patsubst tests/fuzz/%.c,$(B)/fuzz/%.o,$(filter-out %/replay.c %/libfuzzer.c,$(wildcard tests/fuzz/*.c)))
REPLAY := $(B)/tests/replay
SECONDS = 60
TARGETS =
SCENEOBJ := $(patsubst tests/scene/%.c,$(B)/scene/%.o,$(wildcard tests/scene/*.c))
# The longest first, so that the run does not end with one long test on one core.
LONG := $(addprefix tests/,scenes.sh job.sh job-find.sh job-kill.sh job-again.sh job-hands.sh metadata.sh aims.sh patch-find.sh whole.sh \
    edges.sh corpora.sh job-names.sh job-settings.sh codec.sh faults.sh compare.sh follow.sh job-sweep.sh skin-weight.sh)
SHELLTESTS := $(filter-out tests/lib.sh tests/%-lib.sh tests/ssh.sh,$(LONG) $(filter-out $(LONG),$(wildcard tests/*.sh)))
# make test TESTS="codec curve": these alone.
TESTS =
RUN = $(if $(TESTS),$(foreach test,$(TESTS),$(or $(wildcard tests/$(test).sh),$(B)/tests/$(test))),$(UNITS) $(SHELLTESTS))
SCRIPTS := $(wildcard scripts/carn-*)
# What they share, the rules of a job folder, and what those call.
JOB := $(sort $(wildcard scripts/job-* scripts/*.sh scripts/*.mk))
BASHES := $(addprefix scripts/,setup arrows completion deb demo distcheck photographs figure-rule figure-faces cold cold-pages mutants bench bench-job bench-measure)
MANUALS := $(wildcard docs/*.[157])
# What the targets below build first, with all cores.
BUILD = $(MAKE) --no-print-directory -j$(shell nproc 2>/dev/null || echo 1)
C := $(wildcard lib/*/*.[ch] tools/*.c tests/*.[ch] tests/scene/*.[ch] tests/faces/*.c tests/fault/*.[ch] tests/fuzz/*.[ch])

.DELETE_ON_ERROR:
.SECONDARY:
.PHONY: all programs fuzzers setup demo test check fuzz cold mutants bench bench-finding bench-look figures install uninstall lint dist distcheck deb clean

# Compile, and install nothing.
all: programs

programs: $(PROGRAMS) $(SHARED) $(COMPLETION)

# What a build needs, from Debian's packages. The others below install what they need themselves.
setup:
	@scripts/setup build

demo:
	@scripts/setup demo
	@$(BUILD) programs $(SCENE)
	@CARN_BUILD=$(abspath $(B)) scripts/demo

test:
	@$(SETUP) test
	@$(BUILD) programs $(SCENE) $(FACES) $(UNITS) $(FAULTS) $(REPLAY)
	@CARN_BUILD=$(abspath $(B)) tests/run $(B)/results $(RUN)

# Formats, linters, manuals.
lint:
	clang-format --dry-run -Werror $(C)
	@$(BUILD) $(LIBOBJ)
	@scripts/arrows $(LIBOBJ)
	@scripts/mutants -c
	shellcheck -x $(BASHES) $(SCRIPTS) $(filter-out %.mk,$(JOB)) tests/run tests/fuzz/run tests/*.sh .ci/run
	mandoc -T lint -W warning $(MANUALS)
	cppcheck --quiet --error-exitcode=1 --enable=warning,performance,portability --inline-suppr \
	    --suppress=missingIncludeSystem -Ilib -Itests -Itests/scene lib tools tests
	printf '%s\n' $(filter %.c,$(C)) | xargs -n 4 -P 2 sh -c \
	    'clang-tidy --quiet "$$@" -- $(NEEDED) -Itests -Itests/scene 2>/dev/null' clang-tidy

# All of lint; every call of every program that may fail (docs/limits.md); every fault of a job; a job
# over ssh, where there is an sshd; the same pictures from another compiler that does not optimize; the
# demo's report in a browser, at all widths, and with 300 frames; and the tests again under the
# sanitizers.
check:
	@scripts/setup check
	@$(MAKE) --no-print-directory lint
	@$(BUILD) programs $(SCENE) $(FAULTS)
	@CARN_BUILD=$(abspath $(B)) FAULTS=all CARN_SWEEP=all CARN_LIMIT=10800 tests/run $(B)/sweep tests/faults.sh \
	    tests/job-sweep.sh tests/ssh.sh tests/aims.sh tests/codec.sh tests/corpora.sh tests/scenes.sh
	@cat $(B)/faults.tsv
	@$(MAKE) --no-print-directory B=$(B)/clang CC=clang CFLAGS=-O0 WERROR=-Werror demo >/dev/null
	@$(MAKE) --no-print-directory demo >/dev/null
	diff -r $(B)/demo/choir/out $(B)/clang/demo/choir/out
	@CARN_BUILD=$(abspath $(B)) CARN_PAGES=$(abspath $(B)/demo/choir) tests/run $(B)/pages tests/report.sh
	@grep '^# .*: first paint' $(B)/pages/report.tap
	@CARN_MOMENTS=20 CARN_LIMIT=10800 $(MAKE) --no-print-directory B=$(B)/sanitized WERROR=-Werror LDFLAGS='-fsanitize=address,undefined' \
	    CFLAGS='-O1 -g -fno-omit-frame-pointer -fsanitize=address,undefined -fno-sanitize-recover=all' test

# Every line of README.md and docs/guide.md in a fresh root of Debian 12 and of Debian 13, as root and as
# a user without sudo (RUNS, as bookworm:user).
cold:
	@scripts/setup cold
	@CARN_BUILD=$(abspath $(B)) scripts/cold $(RUNS)

# Changes that the tests must notice; docs/mutants.md is what this wrote.
mutants:
	@scripts/setup test
	@got=0; CARN_BUILD=$(abspath $(B)) scripts/mutants || got=$$?; \
	    [ $$got -gt 1 ] || cp $(B)/mutants/mutants.md docs/mutants.md; exit $$got

# Each of TARGETS (all) for SECONDS; tells what it met. What was kept from earlier runs is where the next begins.
fuzz:
	@scripts/setup fuzz
	@$(BUILD) programs
	@$(BUILD) B=$(B)/fuzzed CC=clang CFLAGS='-O1 -g -fno-omit-frame-pointer -fno-sanitize-recover=all \
	    -fsanitize=fuzzer-no-link,address,undefined' LDFLAGS= fuzzers
	@tests/fuzz/seeds.py $(B)/fuzzed/seeds $(B)/bin
	@tests/fuzz/run $(B)/fuzzed $(B)/fuzzed/seeds $(B)/fuzzed/corpus $(B)/fuzzed/found $(SECONDS) $(TARGETS)

fuzzers: $(B)/tests/libfuzzer $(SHARED)

bench:
	@scripts/setup bench
	@$(BUILD) programs $(SCENE)
	@CARN_BUILD=$(abspath $(B)) scripts/bench

# On photographs (scripts/photographs FOLDER fetches them): finding skin, and correcting it. TRUTH is another
# table than tests/data/portraits.tsv; SET: as in bench-finding; AIM and CHANGE as in the script's head.
bench-finding bench-look:
	@scripts/setup bench
	@$(BUILD) programs
	@CARN_BUILD=$(abspath $(B)) scripts/$@ $(if $(SET),-s $(SET)) $(if $(AIM),-a $(AIM)) $(if $(CHANGE),-c $(CHANGE)) "$(FOLDER)" $(TRUTH)

# docs/rule.svg, from docs/skin.tsv and what our own programs say; docs/faces.png, scenes corrected by a job.
figures: programs $(SCENE)
	@CARN_BUILD=$(abspath $(B)) scripts/figure-rule >$(B)/rule.svg && mv $(B)/rule.svg docs/rule.svg
	@CARN_BUILD=$(abspath $(B)) scripts/figure-faces >$(B)/faces.png && mv $(B)/faces.png docs/faces.png

$(COMPLETION): scripts/completion $(PROGRAMS) $(SCRIPTS)
	$(Q)mkdir -p $(@D) && CARN_BUILD=$(abspath $(B)) scripts/completion $(PROGRAMS) $(SCRIPTS) >$@

$(B)/share/carnation/skin.tsv: docs/skin.tsv
	$(Q)mkdir -p $(@D) && cp $< $@

$(B)/share/carnation/job%: scripts/job%
	$(Q)mkdir -p $(@D) && cp -p $< $@

$(B)/share/carnation/%: lib/data/%
	$(Q)mkdir -p $(@D) && cp $< $@

$(B)/bin/carn-%: $(B)/tools/%.o $(B)/libcarnation.a
	$(Q)mkdir -p $(@D) && $(CC) $(CFLAGS) $(LDFLAGS) -o $@ $(filter %.o,$^) $(filter %.a,$^) $(LIBS)

$(HOLDERS:%=$(B)/bin/carn-%): $(HELD:%=$(B)/held/%.o)

$(SCENE): $(SCENEOBJ) $(B)/libcarnation.a | $(SCENEDATA)
	$(Q)mkdir -p $(@D) && $(CC) $(CFLAGS) $(LDFLAGS) -o $@ $^ $(LIBS)

$(B)/share/carnation/scene/%: tests/data/%
	$(Q)mkdir -p $(@D) && cp $< $@

$(B)/tests/fault.so: tests/fault/shim.c tests/fault/shim.h
	$(Q)mkdir -p $(@D) && $(CC) -std=c17 $(WARN) $(WERROR) -O2 -shared -fPIC -o $@ $<

$(B)/tests/sweep: tests/fault/sweep.c tests/fault/shim.h
	$(Q)mkdir -p $(@D) && $(CC) -std=c17 $(WARN) $(WERROR) -O2 -o $@ $<

$(REPLAY): $(FUZZOBJ) $(B)/fuzz/replay.o $(B)/libcarnation.a
	$(Q)mkdir -p $(@D) && $(CC) $(CFLAGS) $(LDFLAGS) -o $@ $^ $(LIBS)

$(B)/tests/libfuzzer: $(FUZZOBJ) $(B)/fuzz/libfuzzer.o $(B)/libcarnation.a
	$(Q)mkdir -p $(@D) && $(CC) $(CFLAGS) -fsanitize=fuzzer $(LDFLAGS) -o $@ $^ $(LIBS)

$(FACES): $(B)/faces/main.o $(B)/libcarnation.a
	$(Q)mkdir -p $(@D) && $(CC) $(CFLAGS) $(LDFLAGS) -o $@ $^ $(LIBS)

$(B)/tests/%: $(B)/unit/%.o $(B)/libcarnation.a
	$(Q)mkdir -p $(@D) && $(CC) $(CFLAGS) $(LDFLAGS) -o $@ $^ $(LIBS)

$(B)/libcarnation.a: $(LIBOBJ)
	$(Q)rm -f $@ && ar rcs $@ $^

# One short line a file; `make V=1` shows the commands.
Q = $(if $(V),,@echo '  $@';)
COMPILE = $(Q)mkdir -p $(@D) && $(CC) $(NEEDED) $(WARN) $(WERROR) $(CPPFLAGS) $(CFLAGS) -MMD -MP -c -o $@ $<

# A library that was installed after a build makes everything anew: libisal, archives.
LIBRARIES := $(B)/libraries
WITH := $(NEEDED) $(LIBS)
ifneq ($(file <$(LIBRARIES)),$(WITH))
.PHONY: $(LIBRARIES)
endif
$(LIBRARIES):
	@mkdir -p $(@D) && echo '$(subst ','\'',$(WITH))' >$@

$(B)/lib/%.o: lib/%.c $(LIBRARIES)
	$(COMPILE)
$(B)/tools/%.o: tools/%.c $(LIBRARIES)
	$(COMPILE)
$(B)/held/%.o: tools/%.c $(LIBRARIES)
	$(COMPILE) -Dmain=carn_$(subst -,_,$*)_main -include job/filters.h
$(B)/unit/%.o: tests/%.c $(LIBRARIES)
	$(COMPILE)
$(B)/scene/%.o: tests/scene/%.c $(LIBRARIES)
	$(COMPILE)
$(B)/faces/%.o: tests/faces/%.c $(LIBRARIES)
	$(COMPILE)
$(B)/fuzz/%.o: tests/fuzz/%.c $(LIBRARIES)
	$(COMPILE)

-include $(wildcard $(B)/*/*.d $(B)/lib/*/*.d)

COMPLETIONS = $(PREFIX)/share/bash-completion/completions
install: programs
	install -d $(DESTDIR)$(PREFIX)/bin $(DESTDIR)$(PREFIX)/share/carnation $(DESTDIR)$(COMPLETIONS) \
	    $(DESTDIR)$(PREFIX)/share/man/man1 $(DESTDIR)$(PREFIX)/share/man/man5 $(DESTDIR)$(PREFIX)/share/man/man7
	install -m 755 $(PROGRAMS) $(SCRIPTS) $(DESTDIR)$(PREFIX)/bin
	install -m 644 $(DATA) docs/skin.tsv $(DESTDIR)$(PREFIX)/share/carnation
	install -m 644 $(filter %.mk %.sh,$(JOB)) $(DESTDIR)$(PREFIX)/share/carnation
	install -m 755 $(filter-out %.mk %.sh,$(JOB)) $(DESTDIR)$(PREFIX)/share/carnation
	install -m 644 $(filter %.1,$(MANUALS)) $(DESTDIR)$(PREFIX)/share/man/man1
	install -m 644 $(filter %.5,$(MANUALS)) $(DESTDIR)$(PREFIX)/share/man/man5
	install -m 644 $(filter %.7,$(MANUALS)) $(DESTDIR)$(PREFIX)/share/man/man7
	install -m 644 $(COMPLETION) $(DESTDIR)$(COMPLETIONS)
	cd $(DESTDIR)$(COMPLETIONS) && for name in $(TOOLS) $(notdir $(SCRIPTS)); do ln -sf carnation $$name; done

uninstall:
	cd $(DESTDIR)$(COMPLETIONS) && rm -f carnation $(TOOLS) $(notdir $(SCRIPTS))
	cd $(DESTDIR)$(PREFIX)/bin && rm -f $(TOOLS) $(notdir $(SCRIPTS))
	cd $(DESTDIR)$(PREFIX)/share/man && rm -f $(patsubst docs/%,man1/%,$(filter %.1,$(MANUALS))) \
	    $(patsubst docs/%,man5/%,$(filter %.5,$(MANUALS))) \
	    $(patsubst docs/%,man7/%,$(filter %.7,$(MANUALS)))
	rm -rf $(DESTDIR)$(PREFIX)/share/carnation

# The sources in one file, the same bytes from the same sources, whenever and by whomever.
VERSION := $(shell sed -n 's/^.define CARN_VERSION "\(.*\)"/\1/p' lib/base/tool.h)
TARBALL := $(B)/carnation-$(VERSION).tar.gz
dist:
	$(Q)mkdir -p $(B) && find Makefile README.md LICENSE .ci .clang-format .clang-tidy .editorconfig .shellcheckrc \
	    tools lib tests scripts docs -type f ! -path '*/__pycache__/*' | LC_ALL=C sort | \
	    tar --transform 's,^,carnation-$(VERSION)/,' --mtime='2026-01-01 00:00:00Z' --owner=0 --group=0 --numeric-owner \
	    --mode=u+rw,go+rX,go-w --format=ustar -T - -cf - | gzip -9n >$(TARBALL).part && mv $(TARBALL).part $(TARBALL)

# The tarball alone: built, tested (TESTS; all), installed and linted, without git and network.
distcheck: dist
	@scripts/setup check
	@scripts/distcheck $(TARBALL) $(B)/distcheck $(TESTS)

# A Debian package (scripts/debian), checked by lintian, unpacked and tried: $(B)/deb/carnation_*.deb.
deb: dist
	@scripts/setup deb
	@scripts/deb $(TARBALL) $(B)/deb

clean:
	rm -rf $(B)

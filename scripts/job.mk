# job.mk: the rules of a Carnation job folder (carn-job(5)); included by the job's own Makefile.
#
# make only ever sees ids, which job-plan has made safe of the pictures' names. Every pipeline runs
# through carn-step: a frame in trouble leaves work/ID.failed, the steps that need it then do nothing
# but take their own result away, and the others go on. Where a result may come out with the bytes it
# had (a curve), a stamp is what make looks at, and the result is only written when it differs.

SHELL := /bin/bash
.SHELLFLAGS := -euo pipefail -c
.DELETE_ON_ERROR:
.SUFFIXES:
MAKEFLAGS += --no-builtin-rules
.PHONY: default audit clean-work settings each-corrected each-measured

# ---- settings: the defaults ----
AIM ?= common
BOUND ?= default
STRENGTH ?= 1
CURVE ?= group
EQUALISE ?= no
SEPARATION ?= default
BLACK_POINT ?= yes
FORMAT ?= same
DEPTH ?= same
COMPRESSION ?= same
QUALITY ?= same
PROFILE ?= same
LOOK ?= none
SKIN ?= yes
CONFIDENCE ?= 0.5
FOLLOW ?= none
SETTINGS := AIM BOUND STRENGTH CURVE EQUALISE SEPARATION BLACK_POINT FORMAT DEPTH COMPRESSION QUALITY PROFILE LOOK SKIN CONFIDENCE FOLLOW

ifeq ($(CARN_LOCKED),)
# Called by hand: carn-job takes the lock, plans, and comes back. Off or unsure is no failure of make.
default audit clean-work:
	+@carn-job . $@ || [ $$? -eq 1 ]

else ifneq ($(filter settings,$(MAKECMDGOALS)),)
# Not through a shell: whatever a setting holds arrives as it stands.
settings:
	$(foreach s,$(SETTINGS),$(info $s $(strip $($s))))@:

else
include work/plan.mk

# In some frames no skin was found: they are delivered with their group's curve and not measured.
SEEN := $(filter-out $(BLIND),$(FRAMES))

# The steps of a frame: one that fails marks the frame, and the steps after it leave it alone.
STEP = carn-step -f work/$*.failed -n work/notes/$(@F)

default: each-corrected
	@job-summary default
audit: each-measured
	@job-summary audit
each-corrected: $(FRAMES:%=work/%.shown)
each-measured: $(SEEN:%=work/%.before) $(FRAMES:%=work/%.pictured)

# ---- cards: readings, then a curve that makes each neutral, if asked at one level for all ----
$(CARDS:%=work/%.carded): work/%.carded: work/%.origin work/%.cardpatches work/measure.set
	@carn-step -k -f work/$*.cardfailed -n work/notes/$(@F) -o work/$*.card -- \
	    carn-decode work/in/$* '|' carn-sample -q -p work/$*.cardpatches $(INK)
	@touch $@
$(CARDS:%=work/%.card): work/%.card: work/%.carded ; @:

work/levelled: $(CARDS:%=work/%.card) work/neutral.set
	@job-neutral level $(CARDS)
	@touch $@
work/level: work/levelled ; @:

$(CARDS:%=work/%.neutralled): work/%.neutralled: work/%.card work/level
	@job-neutral curve $*
	@touch $@
$(CARDS:%=work/%.neutral): work/%.neutral: work/%.neutralled ; @:

# ---- readings: as the picture is, and after the neutral step ----
$(SEEN:%=work/%.found): work/%.found: work/%.origin work/%.labels work/%.patches work/measure.set
	@$(STEP) -o $@ -- carn-decode -j work/$*.labels work/in/$* '|' carn-sample -q -p work/$*.patches $(INK)
$(SEEN:%=work/%.readings): work/%.readings: work/%.found work/%.wiring
	@$(STEP) -o $@ -- carn-decode -j work/$*.labels work/in/$* '|' carn-curve-apply -c work/$(CARD).neutral \
	    '|' carn-sample -q -p work/$*.patches $(INK)
$(SEEN:%=work/%.before): work/%.before: work/%.readings work/aim.set
	@$(STEP) -o $@ -- carn-score $(AIMING) $(INK) work/$*.readings

# ---- one curve a group; where a camera is followed, after its pictures of the subject are proven ----
$(GROUPS:%=work/%.solved): work/%.solved: work/%.members work/aim.set work/solve.set
	@job-curve $* '$(MEMBERS)' '$(FOLLOWED)' $(if $(FOLLOWED),,$(AIMING)) $(INK) $(BOUNDING)
	@touch $@
$(GROUPS:%=work/%.curve): work/%.curve: work/%.solved ; @:
$(GROUPS:%=work/%.pooled): work/%.pooled: work/%.solved ; @:

# ---- the picture; work/ID.made is what it was made with, work/ID.applied the curve ----
$(SEEN:%=work/%.made): work/%.made: work/%.readings
$(FRAMES:%=work/%.made): work/%.made: work/%.origin work/%.wiring work/deliver.set work/made.set
	@job-deliver $*
$(SEEN:%=work/%.scored): work/%.scored: work/%.made work/%.before
	@$(STEP) -o $@ -- carn-decode -j work/$*.labels work/out/$* '|' carn-sample -q -p work/$*.patches $(INK) \
	    '|' carn-score $(AIMING) -c work/$*.applied $(INK)
# Before the look, which leaves the aim on purpose.
$(SEEN:%=work/%.plain): work/%.plain: work/%.made work/%.before
	@$(STEP) -o $@ -- carn-decode -j work/$*.labels work/in/$* '|' carn-curve-apply -c work/$(CARD).neutral \
	    -c work/$*.applied '|' carn-sample -q -p work/$*.patches $(INK) \
	    '|' carn-score $(AIMING) -c work/$*.applied $(INK)

# ---- what a person looks at: two small pictures, a line ----
$(SEEN:%=work/%.shown): work/%.shown: work/%.scored $(if $(LOOKING),work/%.plain)
$(FRAMES:%=work/%.pictured): work/%.pictured: work/%.origin
	@$(STEP) -- carn-decode work/in/$* '|' carn-blur-average -w 240 '|' carn-encode -b 8 report/pictures/$*.before.jpg
	@[ ! -e report/pictures/$*.before.jpg ] || touch $@
$(FRAMES:%=work/%.shown): work/%.shown: work/%.made work/%.pictured
	@$(STEP) -- carn-decode work/out/$* '|' carn-blur-average -w 240 '|' carn-encode -b 8 report/pictures/$*.after.jpg
	@job-line $*
	@touch $@
endif

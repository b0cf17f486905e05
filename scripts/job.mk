# job.mk: the rules of a Carnation job folder (carn-job(5)), included by its own Makefile. make only
# knows which step depends on which; each step is one command for one id, and make tracks the stamp
# file that the step leaves. work/edges.mk, written by carn-job, has the ids and the other edges.
SHELL := /bin/sh
MAKEFLAGS += --no-builtin-rules --no-builtin-variables
.SUFFIXES:
.PHONY: default audit tidy clean-work settings due-read due-level due-neutral due-measure due-solve due-deliver

SETTINGS := AIM BOUND STRENGTH CURVE EQUALISE SEPARATION BLACK_POINT FORMAT DEPTH COMPRESSION QUALITY PROFILE LOOK SKIN CONFIDENCE FOLLOW

ifeq ($(CARN_LOCKED),)
# When make is called by hand: carn-job takes the lock, plans, and calls make again. Status 1 (off or
# unsure) is no failure of make.
default audit tidy clean-work:
	+@carn-job . $@ || [ $$? -eq 1 ]

else ifneq ($(filter settings,$(MAKECMDGOALS)),)
# Not through a shell, so that the values of settings arrive unchanged.
settings:
	$(foreach s,$(SETTINGS),$(info $s $(strip $($s))))@:

else
include work/edges.mk
default: work/reported
audit: work/audited

# On other machines: srun returns 0 for a step whose node died, so the stamp decides.
step = $(if $(VIA),rm -f $@ && $(VIA) $(BIN)/$1 && test -e $@,$(BIN)/$1)

$(CARDS:%=work/card/%/read): work/card/%/read: work/card/%/request.tsv work/card/%/patches.tsv
	@$(call step,carn-job-group . read $*)
work/level:
	@$(call step,carn-job-group . level)
$(CARDS:%=work/card/%/measured): work/card/%/measured: work/card/%/read
	@$(call step,carn-job-group . neutral $*)
$(FRAMES:%=work/frame/%/measured): work/frame/%/measured: work/frame/%/request.tsv work/frame/%/patches.tsv
	@$(call step,carn-job-frame . measure $*)
$(GROUPS:%=work/group/%/solved): work/group/%/solved: work/group/%/request.tsv work/group/%/members.tsv
	@$(call step,carn-job-group . solve $*)
$(FRAMES:%=work/frame/%/delivered): work/frame/%/delivered: work/frame/%/deliver.tsv work/frame/%/measured
	@$(call step,carn-job-frame . deliver $*)

due-read: $(CARDS:%=work/card/%/read)
due-level: $(LEVEL)
due-neutral: $(CARDS:%=work/card/%/measured)
due-measure: $(FRAMES:%=work/frame/%/measured)
due-solve: $(GROUPS:%=work/group/%/solved)
due-deliver: $(FRAMES:%=work/frame/%/delivered)
work/reported: work/frames.tsv work/tables.tsv work/notes.tsv work/strays.tsv work/target $(CARDS:%=work/card/%/measured) $(FRAMES:%=work/frame/%/delivered)
	@$(BIN)/carn-job-report .
work/audited: work/frames.tsv work/tables.tsv work/notes.tsv work/target $(GROUPS:%=work/group/%/solved) $(CARDS:%=work/card/%/measured)
	@$(BIN)/carn-job-report --audit .
endif

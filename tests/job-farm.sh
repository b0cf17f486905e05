#!/usr/bin/env bash
# The steps of a job by GNU parallel, and by a Slurm of one machine with a configuration of its own. The
# bytes are those of make; steps that were lost are done by the next run.
. "$(dirname "$0")/lib.sh"
# shellcheck source=tests/job-lib.sh
. "$TOP/tests/job-lib.sh"

shoot plain emre
undisturbed

# The commands of recipe 7 in docs/guide.md, the hosts being this machine.
recipe() { sed -n "s/^    \\(carn-job --by $1.*\\) choir\$/\\1 job/p" "$TOP/docs/guide.md" | sed 's|16/r1,16/r2|:|'; }
if needs "by parallel" parallel; then
    cp -a plain job
    check "by parallel, as the guide has it" bash -c "$(recipe parallel)"
    as_wanted "the same bytes"
fi
status 2 "by an unknown engine" carn-job --by magic plain

slurm=$T/slurm
stop() {
    local file
    for file in "$slurm"/run/*.pid; do [ ! -f "$file" ] || kill "$(cat "$file")" 2>/dev/null; done
}
begin() { # the daemons, as root, with a key of their own
    mkdir -p "$slurm"/run "$slurm"/state "$slurm"/spool "$slurm"/log
    chmod 755 "$T" "$slurm" "$slurm/run"
    head -c 1024 /dev/urandom >"$slurm/key" && chmod 600 "$slurm/key"
    cat >"$slurm/slurm.conf" <<END
ClusterName=t
SlurmctldHost=$(hostname -s)(127.0.0.1)
SlurmUser=root
SlurmdUser=root
AuthType=auth/munge
AuthInfo=socket=$slurm/run/munge.sock
CryptoType=crypto/munge
StateSaveLocation=$slurm/state
SlurmdSpoolDir=$slurm/spool
SlurmctldPidFile=$slurm/run/controller.pid
SlurmdPidFile=$slurm/run/node.pid
SlurmctldLogFile=$slurm/log/controller
SlurmdLogFile=$slurm/log/node
SlurmctldPort=26817
SlurmdPort=26818
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
SelectType=select/cons_tres
SelectTypeParameters=CR_Core
SchedulerType=sched/builtin
MpiDefault=none
ReturnToService=2
SlurmdTimeout=4
NodeName=$(hostname -s) NodeAddr=127.0.0.1 CPUs=$(nproc) State=UNKNOWN
PartitionName=p Nodes=$(hostname -s) Default=YES State=UP
END
    export SLURM_CONF=$slurm/slurm.conf
    munged --force --key-file="$slurm/key" --socket="$slurm/run/munge.sock" --pid-file="$slurm/run/munge.pid" --log-file="$slurm/log/munge" --seed-file="$slurm/run/seed" &&
        slurmctld -f "$SLURM_CONF" && slurmd -f "$SLURM_CONF" && timeout 60 srun --quiet -N1 -n1 true
}
if ! have slurmctld || ! have munged || [ "$(id -u)" -ne 0 ]; then
    skip "by slurm" "no Slurm, or not root"
elif ! begin >begun 2>&1; then
    stop
    skip "by slurm" "Slurm did not begin: $(tail -n 1 begun)"
else
    trap 'stop; rm -rf "$T"' EXIT
    rm -rf job && cp -a plain job
    check "by slurm, as the guide has it" bash -c "$(recipe slurm)"
    as_wanted "the same bytes"

    # A step that waits as it begins can be lost there: the suite anew, with such a step.
    mkdir held
    cp -a "$BIN" "$CARN_BUILD/share" held/
    mv held/bin/carn-job-frame held/bin/frame
    cat >held/bin/carn-job-frame <<'END'
#!/bin/sh
[ ! -e ../hold ] || { touch ../waits && while [ -e ../hold ]; do sleep 0.1; done; }
exec "$(dirname "$0")/frame" "$@"
END
    chmod 755 held/bin/carn-job-frame
    # lose NAME COMMAND...: a run in which the command meets a step under way ends with 2, and the next heals it.
    lose() {
        local name=$1 got=0
        shift
        rm -rf job waits && cp -a plain job && touch hold
        timeout 120 env CARN_BUILD="$T/held" held/bin/carn-job --by slurm job >out 2>err &
        local run=$!
        until [ -e waits ] || ! kill -0 $run 2>/dev/null; do sleep 0.1; done
        "$@" >lost 2>&1
        rm -f hold # for the steps that are not lost
        wait $run || got=$?
        is "$name: the run ends with 2" $got 2
        says "and says that a step was lost" 'a step ended before it was done; run it again'
        check "and the next run" carn-job --by slurm job
        as_wanted "does it again, to the same bytes"
    }
    # shellcheck disable=SC2317 # called by lose
    node_dies() { # with all that runs on it, and comes back when the controller has missed it
        local victim
        for victim in $(pgrep -x slurmstepd) $(grep -lsz '^SLURM_STEP_ID=' /proc/[0-9]*/environ | cut -d / -f 3) $(cat "$slurm/run/node.pid"); do
            grep -qsz "^SLURM_CONF=$SLURM_CONF" "/proc/$victim/environ" && kill -KILL "$victim"
        done
        timeout 60 sh -c 'until sinfo -h -o %T | grep -q down; do sleep 0.2; done'
        slurmd -f "$SLURM_CONF"
    }
    lose "a step cancelled" scancel --name=carn
    lose "a node dead and back" node_dies
fi
finish

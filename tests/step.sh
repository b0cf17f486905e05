#!/usr/bin/env bash
# carn-step: pipelines that are one command, what is said of a failing stage, results whole or not at all.
. "$(dirname "$0")/lib.sh"

seq 100000 >many
"$SCENE" -w 192 -h 192 >frame
refused "a stage that fails in the middle" carn-step -- cat many '|' carn-decode nothing '|' cat
says "its own message" "^carn-decode: nothing: "
status 2 "a reader that goes away early" carn-step -- cat many '|' head -n 1
says "is told of as that" "cat: the next stage went away"
status 2 "a failing reader is the culprit, not the writer it cut off" carn-step -- cat many '|' carn-encode x.tif
says "by its own message" "^carn-encode: "
(trap '' PIPE && exec carn-step -- cat frame '|' carn-encode nowhere/x.tif) 2>err
is "also where SIGPIPE is ignored" "$? $(cat err)" "2 carn-encode: nowhere/x.tif: cannot be made: No such file or directory"
# A page of notes before it; carn-step keeps the first 64 KiB of what a stage says.
status 2 "a stage that says much" carn-step -- sh -c 'seq -f "sh: note: %g" 4000 >&2; echo "sh: its trouble" >&2; exit 2'
is "its trouble alone is told" "$(cat err)" "sh: its trouble"
refused "a signal" carn-step -- sh -c 'kill -KILL $$' '|' cat
says "is said" "ended by signal 9"
check "status 1 is no trouble" carn-step -o result -s verdict -- sh -c 'echo found; exit 1'
is "it is kept beside the result" "$(cat verdict result)" "1
found"
echo old >result
refused "status 2 is trouble" carn-step -o result -- sh -c 'echo half; exit 2'
is "leaves no result" "$(ls result* 2>/dev/null)" ""
check "trouble goes into a file when asked to" carn-step -f mark -o result -- carn-decode nothing
check "while that file is there the step does nothing" carn-step -f mark -o result -- touch ran
is "and says nothing" "$(ls ran result 2>/dev/null)$(grep -c nothing mark)" 1
# Held and released together, so that each finds no mark yet and writes one.
rm -f mark
for i in $(seq 12); do (carn-step -f mark -- sh -c 'until [ -e go ]; do sleep 0.02; done; exit 2' || echo "$i $?") & done >together
sleep 1 && : >go
wait
is "steps of one frame in trouble at once" "$(cat together)$(wc -l <mark)" 1
echo same | tee kept >/dev/null && touch -d 2020-01-01 kept
check "the same bytes" carn-step -k -o kept -- echo same
is "leave a file its time" "$(date -r kept +%Y)" 2020
# A pipe stands for /dev/null, which was renamed onto and removed.
mkfifo pipe && mkdir folder
for option in o s n f; do
    refused "a pipe for -$option" timeout 20 carn-step -$option pipe -- sh -c 'echo note >&2; exit 2'
    refused "a folder for -$option" carn-step -$option folder -- sh -c 'echo note >&2; exit 2'
done
is "is still there" "$([ -p pipe ] && [ -d folder ] && echo yes)" yes
refused "no pipeline" carn-step -o x --
refused "an empty stage" carn-step -- cat '|' '|' cat
finish

#!/usr/bin/env bash
# No number goes through the user's locale: every program and script prints the same bytes where the
# decimal point is a comma (de_DE), and where I is no capital of i (tr_TR). The locales are built here.
. "$(dirname "$0")/lib.sh"
mkdir locales
for name in de_DE tr_TR; do
    localedef -i $name -f UTF-8 "locales/$name.UTF-8" >/dev/null 2>&1
done
if [ ! -d locales/tr_TR.UTF-8 ]; then
    skip "locales" "no localedef, or not its sources (locales)"
    finish
fi
is "the locale is a comma's" "$(LOCPATH=$T/locales LC_ALL=de_DE.UTF-8 bash -c 'printf %.1f 1,5')" 1,5

for camera in north south; do
    scene=("$SCENE" -s birk --camera "$camera" --card -w 128 -h 160 -n "$camera.TIF")
    "${scene[@]}" | carn-encode -t tif $camera.TIF
    "${scene[@]}" --patches | tail -n +"$([ $camera = north ] && echo 1 || echo 2)"
done >p.tsv
printf 'frame\tsubject\tcamera\nnorth.TIF\tbirk\tnorth\nsouth.TIF\tbirk\tsouth\n' >job.tsv
mkdir shots
ln ./*.TIF p.tsv shots
carn-decode -j job.tsv ./*.TIF >frames
carn-sample -q -p p.tsv <frames >readings
carn-curve-neutral readings >neutral.curve 2>/dev/null
carn-curve-solve readings >skin.curve
printf 'frame\tpatch\tx\ty\tw\th\n*\twhole\t0\t0\t100%%\t100%%\n' >whole.tsv
carn-surface -q -p whole.tsv <frames >surface.tsv

# What is run, each in a folder of its own; its output, messages and files are compared.
cat >runs <<'END'
carn-aim-take house ../readings
carn-aim-take -r house ../readings
carn-compare ../readings
carn-compare -s ../surface.tsv ../readings
carn-audit -p ../p.tsv -j ../job.tsv ../north.TIF ../south.TIF
carn-correct -p ../p.tsv ../north.TIF out.tif
carn-job-new job ../shots
carn-facts ../north.TIF
carn-decode ../north.TIF
carn-encode -t png - <../frames.one
carn-blur-average -s 1.5 <../frames
carn-curve-apply -c ../neutral.curve -c ../skin.curve <../frames
carn-sample -q -p ../p.tsv <../frames
carn-patch-find <../frames
carn-skin-weight -r ../readings <../frames.one
carn-weight-show <../frames.one
carn-to-profile -o bt2020 <../frames.one
carn-surface -q -p ../whole.tsv <../frames.one
carn-score --before ../readings ../readings
carn-curve-neutral ../readings
carn-curve-solve ../readings
carn-aim-meet ../readings
carn-differ ../readings ../readings
END
carn-decode north.TIF >frames.one
# all LOCALE [N]: what each (the first N) of them gives, as LOCALE.NUMBER.
all() {
    local n=0 line
    while read -r line; do
        n=$((n + 1))
        [ $n -le "${2:-$n}" ] || break
        mkdir run
        (cd run && LOCPATH=$T/locales LC_ALL=$1 LANG=$1 bash -c "$line" >.out 2>.err; echo $? >.status)
        (cd run && find . -type f -o -type l | sort | xargs md5sum 2>/dev/null && cat .err .status) >"$1.$n"
        rm -rf run
    done <runs
}
all C
all de_DE.UTF-8
all tr_TR.UTF-8 7 # the scripts: the programs ask for no locale
n=0
while read -r line; do
    n=$((n + 1))
    for locale in de_DE.UTF-8 tr_TR.UTF-8; do
        [ -f $locale.$n ] || continue
        if cmp -s C.$n $locale.$n && [ "$(tail -n 1 C.$n)" -lt 2 ]; then pass "$line in $locale"; else fail "$line in $locale" "$(diff C.$n $locale.$n | head -n 5)"; fi
    done
done <runs
# Scripts that are not run here: those that sort or reckon fix their locale themselves.
for script in "$TOP"/scripts/*; do
    [ -f "$script" ] || continue
    [ "$(head -c 20 "$script" | head -n 1)" = '#!/usr/bin/env bash' ] || continue
    grep -qE '^export LC_ALL=C( |$)' "$script" && pass "${script##*/} fixes its locale" || fail "${script##*/} fixes its locale"
done
finish

#!/usr/bin/env bash
# Where faces are looked for, and what is seen of them: small ones, two of a kind, one that fills the frame.
# A light, a medium and a deep singer each time, but for two pictures: what burns out is light, what is faint is deep.
. "$(dirname "$0")/lib.sh"
for singer in aino emre lamin; do "$SCENE" -s $singer -w 384 -h 512 | pamtopnm 2>/dev/null >$singer.ppm; done
ppmmake rgb:80/80/70 512 512 >ground.ppm
# sized SINGER WIDTH: the scene, smaller
sized() { pamscale -xsize "$2" "$1.ppm" 2>/dev/null; }
# on X Y [GROUND]: the picture that is read, on a plain ground
on() { pnmpaste - "$1" "$2" "${3:-ground.ppm}"; }
# named NAME: as a frame
named() { pamtopam | sed "1a #@ name $1"; }
rows() { carn-patch-find 2>/dev/null | tail -n +2 | cut -f 1 | uniq -c | awk '{ print $1 "x" $2 }' | paste -sd ' '; }

# ---- small ones ----
for singer in aino emre lamin; do sized $singer 48 | on 230 300 | named $singer; done >small.pam
is "a face of 18 pixels in 512" "$(rows <small.pam)" "1xaino 1xemre 1xlamin"
for singer in aino emre lamin; do
    sized $singer 100 | on 20 20 >$singer.one
    for at in "440 400" "250 250" "420 30" "300 330"; do
        # shellcheck disable=SC2086 # two numbers
        sized $singer 28 | on $at $singer.one | named "$singer-${at% *}"
    done
done >two.pam
is "beside one of 40 pixels one of 11, wherever it is" "$(rows <two.pam)" \
    "$(for singer in aino emre lamin; do printf '2x%s ' $singer-440 $singer-250 $singer-420 $singer-300; done | sed 's/ $//')"
for singer in aino emre lamin; do
    sized $singer 300 | on 20 20 >$singer.one
    sized $singer 30 | on 440 400 $singer.one | named $singer
done >large.pam
is "but small ones are not looked for beside a large one alone" "$(rows <large.pam)" "1xaino 1xemre 1xlamin"

# ---- close together, and near ----
for singer in aino emre lamin; do
    pamcut -left 100 -top 90 -width 184 -height 260 $singer.ppm >$singer.half
    pnmcat -lr $singer.half $singer.half | named $singer
done >close.pam
is "two side by side are two" "$(rows <close.pam)" "2xaino 2xemre 2xlamin"
for singer in aino emre lamin; do pamcut -left 121 -top 131 -width 143 -height 178 $singer.ppm | named $singer; done >near.pam
is "one that fills the frame is one" "$(rows <near.pam)" "1xaino 1xemre 1xlamin"

# ---- what is seen of them ----
seen() { "$FACES" "$TOP/lib/data/face-detector.net" 0.3; }
for singer in aino emre lamin; do named $singer <$singer.ppm; done | seen >plain.tsv
holds "lips are redder than cheeks" 'c["f_lips"] > 0.12 && c["f_lips"] < 0.2' plain.tsv
holds "eyes differ from them" 'c["f_eyes"] > -2.2 && c["f_eyes"] < -1.5' plain.tsv
holds "most of the oval is of their colour" 'c["f_own"] > 0.75 && c["f_own"] < 0.99' plain.tsv
holds "which is skin's, of its hue" 'c["f_skin"] > 0.5 && c["f_hue"] < 15 && c["f_chroma"] > 0.3' plain.tsv
holds "with detail nearly everywhere" 'c["f_flat"] < 0.1 && c["f_rough"] < -4' plain.tsv
holds "and the points are where a face has them" 'c["f_shape"] < 0.06' plain.tsv
sized aino 192 | pamfunc -multiplier=1.5 | named aino >burnt.pam 2>/dev/null
holds "not where the light burns out the forehead" 'c["f_own"] > 0.4 && c["f_own"] < 0.6' <(seen <burnt.pam)
# The picture's one colour shows beside the face: a deep one with little of other colours keeps them there.
ppmtopgm lamin.ppm | pgmtoppm '#d0a080' >toned.ppm
ppmmix 0.3 toned.ppm lamin.ppm | named lamin >faded.pam
holds "colours beside a face count" 'c["confidence"] > 0.9' <(seen <faded.pam)
# Of a hue that no skin has, with the colours exchanged, a face is doubted, but not refused.
for singer in aino emre lamin; do
    ppmtorgb3 $singer.ppm
    rgb3toppm $singer.blu $singer.grn $singer.red | named $singer
done >blue.pam
seen <blue.pam >blue.tsv
holds "a blue face is doubtful" 'c["confidence"] > 0.3 && c["confidence"] < 0.85' blue.tsv
finish

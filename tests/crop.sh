#!/usr/bin/env bash
# carn-crop: faces cut out of frames, against pamcut, in every orientation.
. "$(dirname "$0")/lib.sh"

"$SCENE" -s celia -w 300 -h 400 -n a.tif >a.pam
head='frame\tpatch\ttone\tx\ty\tw\th\n'
one='a.tif\tface-1\tall\t90\t100\t128\t150\n' two='a.tif\tface-2\tall\t0\t0\t40\t50\n' cheek='*\tcheek\tmiddle\t100\t100\t9\t9\n'
# shellcheck disable=SC2059 # rows are formats
{ printf "$head$one" >one.tsv && printf "$head$two" >two.tsv && printf "$head$cheek$two$one" >both.tsv && printf "$head$cheek" >none.tsv && printf "$head" >empty.tsv; }
# Room 1.5: 192 x 240 pixels about 154 175; of the corner's face 60 x 75 pixels from the corner.
carn-crop -p one.tsv <a.pam >one.pam
carn-crop -p two.tsv <a.pam >two.pam
carn-crop -p both.tsv <a.pam >both.pam
same "a frame a face, in the table's order" both.pam <(cat two.pam one.pam)
pamtopnm one.pam >one.ppm
same "the picture's own pixels" one.ppm <(pamtopnm a.pam | pamcut -left 58 -top 55 -width 192 -height 240 | pamtopnm)
same "as far as the picture goes" <(pamtopnm two.pam) <(pamtopnm a.pam | pamcut -left 0 -top 0 -width 60 -height 75 | pamtopnm)
for o in 3:r180:r180 6:ccw:cw 8:cw:ccw; do
    IFS=: read -r o there back <<<"$o"
    { printf 'P7\n#@ name a.tif\n#@ orientation %d\n' "$o" && pamflip "-$there" a.pam | tail -n +2; } >turned.pam
    same "orientation $o" <(carn-crop -p one.tsv <turned.pam | pamflip "-$back" | pamtopnm) one.ppm
done
# A face whose picture begins and ends inside of a pixel: the same pixels in all eight ways of storing it.
turns=("" "-null" "-leftright" "-rotate180" "-topbottom" "-transpose" "-rotate90" "-xform=transpose,leftright,topbottom" "-rotate270")
back=("" "-null" "-leftright" "-rotate180" "-topbottom" "-transpose" "-rotate270" "-xform=transpose,leftright,topbottom" "-rotate90")
# shellcheck disable=SC2059 # rows are formats
printf "${head}a.tif\tface-1\tall\t91\t103\t127\t147\n" >odd.tsv
for size in 512 61; do
    carn-crop -p odd.tsv -w $size <a.pam | pamtopnm >odd.ppm
    for o in 2 3 4 5 6 7 8; do
        { printf 'P7\n#@ name a.tif\n#@ orientation %d\n' "$o" && pamflip "${turns[o]}" a.pam | tail -n +2; } >turned.pam
        same "orientation $o, up to $size wide" <(carn-crop -p odd.tsv -w $size <turned.pam | pamflip "${back[o]}" | pamtopnm) odd.ppm
    done
done
is "$size wide when upright" "$(pamfile odd.ppm | grep -c "$size by 76")" 1
carn-crop -p both.tsv -w 59 <a.pam >small.pam
is "averaged down to a width" "$(grep -a '^WIDTH\|^HEIGHT\|smoothed' small.pam | tr '\n' ' ')" "#@ smoothed average WIDTH 59 HEIGHT 74 #@ smoothed average WIDTH 59 HEIGHT 74 "
is "with more room around the face" "$(carn-crop -p one.tsv -r 2 <a.pam | grep -a -m 1 '^WIDTH')" "WIDTH 256"
status 1 "no face in the table" carn-crop -p none.tsv <a.pam
refused "no row at all" carn-crop -p empty.tsv <a.pam
refused "a width of 0" carn-crop -p one.tsv -w 0 <a.pam
refused "a width that is not whole" carn-crop -p one.tsv -w 59.5 <a.pam
refused "no table" carn-crop <a.pam
finish

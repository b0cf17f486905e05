#!/usr/bin/env bash
# carn-card-find on drawn scenes: a card held at five sizes, tilts and places, by a deep, a medium and
# a light singer, as a small JPEG too; none where none is held. The box holds grey alone.
. "$(dirname "$0")/lib.sh"

# shot FILE SINGER OPTION...
shot() { "$SCENE" -s "$2" -w 240 -h 320 -n "$1" "${@:3}" | carn-encode "$1"; }
shot 1.tif aino --card --card-size 0.35 --card-across 0.15 --card-up 0.3
shot 2.tif jomo --card --card-size 0.5 --card-tilt 5 --card-up 0.15 --brick
shot 3.tif emre --card --card-size 0.7 --card-tilt -12 --card-across -0.12 --card-up 0.1 --door
shot 4.tif jomo --card --card-tilt 20 --card-up 0.15 --grain 3
shot 5.tif aino --card --card-size 1.4 --card-tilt 0 --card-across 0.05 --card-up 0.1 --cast 2
shot 6.jpg emre --card
check "six cards" bash -c 'carn-decode [1-6].* | carn-card-find >cards.tsv'
is "each is found" "$(cut -f 1-3 cards.tsv | tr '\t\n' ' ,')" "frame patch tone,1.tif card card,2.tif card card,3.tif card card,4.tif card card,5.tif card card,6.jpg card card,"
carn-decode [1-6].* | carn-sample -q -p cards.tsv >readings
holds "the box holds the card alone" 'c["spread"] < 2.5 && abs(c["L"] - 61.7) < 0.5 && c["chroma"] < 8' readings
shot none.tif emre --door --scarf
status 1 "a scene without a card gives none" bash -c 'carn-decode none.tif | carn-card-find >none.tsv'
is "but the header" "$(wc -l <none.tsv)" 1
# Too small to be sure of: 13 by 6 pixels.
shot small.tif lamin --card --card-size 0.25
carn-decode small.tif | carn-card-find -l 0 >small.tsv
holds "a small one is doubtful" 'c["confidence"] > 0 && c["confidence"] < 0.5' small.tsv
status 1 "and not proposed unless asked for" bash -c 'carn-decode small.tif | carn-card-find'
finish

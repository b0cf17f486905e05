#!/usr/bin/env bash
# One fault, one line: what a program meets in its tables is told once, under its own name and the user's names.
. "$(dirname "$0")/lib.sh"

row() { printf '%s\t' "${@:1:$#-1}" && printf '%s\n' "${@: -1}"; }
head=(frame subject camera patch tone L a b)
{ row "${head[@]}" && row a.tif aino north cheek middle 60 20 30 && row a.tif aino south cheek middle 60 20 30; } >two.tsv
{ row "${head[@]}" && row a.tif aino north cheek middle 60 bad 30 && row a.tif aino south cheek middle 60 20 30; } >number.tsv
printf 'frame,subject,camera\na,b,c\n' >commas.tsv
printf '\377\376f\0r\0' >utf16.tsv
: >empty.tsv
mkdir folder

# cause FILE PATTERN: what is wrong with a table, told of it by each program that reads it.
cause() {
    local name=${1%.tsv}
    refused "carn-compare $name" carn-compare "$1"
    says "its cause" "^carn-compare: $1: $2"
    refused "carn-compare first of two: $name" carn-compare "$1" two.tsv
    says "its cause" "^carn-compare: $1: $2"
    refused "carn-compare second of two: $name" carn-compare two.tsv "$1"
    says "its cause" "^carn-compare: $1: $2"
    refused "carn-compare -s $name" carn-compare -s "$1" two.tsv
    says "its file" "^carn-compare: $1: "
    for ratios in '' -r; do
        refused "carn-aim-take $ratios $name" carn-aim-take $ratios aino "$1"
        says "its cause" "^carn-aim-take: $1: $2"
    done
}
cause missing.tsv 'cannot open'
cause folder 'cannot read'
cause empty.tsv 'no header row'
cause commas.tsv "no column '[a-zA-Z]*' in the header: it is one cell with commas"
cause utf16.tsv 'is UTF-16 text'
{ row camera subject patch tone rms_L_8 && row north aino cheek middle 1 && row south aino cheek middle x; } >surface.tsv
refused "carn-compare -s of what is no number" carn-compare -s surface.tsv two.tsv
says "its cause" "^carn-compare: surface.tsv: line 3, column 'rms_L_8': 'x' is not a number"
cause number.tsv "line 2, column 'a': 'bad' is not a number"

# What cannot be made of a job, and one whose tables would be written to the wrong columns.
{ printf 'P6 20 20 255\n' && printf '\310\226\202%.0s' {1..400}; } >good.ppm
job() { # NAME PATTERN
    refused "carn-job-new: $1" carn-job-new "$1" good.ppm
    says "its cause" "^carn-job-new: $2"
}
job /proc/none '/proc/none/frames: cannot be made'
mkdir link && ln -s /nowhere link/frames && job link 'link/frames: cannot be made'
mkdir -p lock/work/.lock && job lock 'lock/work/.lock: cannot be written'
for file in Makefile job.tsv patches.tsv; do
    mkdir -p "no-$file/$file" && job "no-$file" "no-$file/$file: cannot be written"
done
mkdir commas foreign && cp commas.tsv commas/job.tsv && printf 'x\ty\n' >foreign/patches.tsv
job commas "job.tsv: no column 'frame' in the header: it is one cell with commas"
same "and it stays as it was" commas.tsv commas/job.tsv
job foreign "patches.tsv: no column 'frame'"
finish

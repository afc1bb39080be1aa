#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
#
# Two shafts, one player, and a decision: from two days on the bench to the shaft that this player is
# the more consistent with. Every step is one command, and each may be run alone.
#
#   two-shafts.sh [FOLDER]     FOLDER is where its files go, a new temporary one unless given
#
# It makes a setup a shaft, like models/setups/soft-tip-quick.yaml, with the profiles that it has drawn.
# Run it in the top folder of caber. Set CABER to the program when it is not on the PATH. The
# demonstration data is invented, for a small workshop at a public links course.
set -eu
caber=${CABER:-caber}
root=$(pwd)
folder=${1:-$(mktemp -d)}
mkdir -p "$folder"

say() { printf '\n== %s\n\n' "$*"; }

say "1. From bench readings to profiles: what is known of each shaft, and how well"
for shaft in soft-tip firm-tip; do
    "$caber" profile "models/readings/$shaft.yaml" --output "$folder/$shaft.yaml" \
        --plot "$folder/$shaft.svg" | sed -n '1,/^$/p'
done

# A setup names the profile that has just been drawn; all else is the same for both.
for shaft in soft-tip firm-tip; do
    cat >"$folder/$shaft-setup.yaml" <<SETUP
kind: setup
name: $shaft, from its readings
shaft: $shaft.yaml
head: $root/models/heads/driver-10.yaml
grip: $root/models/grips/standard.yaml
player: $root/models/players/quick.yaml
build: {tip_trim: 12 mm, butt_trim: 48 mm, insertion: 30 mm, hold: 120 mm}
SETUP
done
soft=$folder/soft-tip-setup.yaml
firm=$folder/firm-tip-setup.yaml

say "2. The same load on both: what changes by more than this player's swings vary"
"$caber" compare "$soft" "$firm" --plot "$folder/compare.svg"

say "3. 400 swings with each, the same ones: which of the two is the more consistent"
"$caber" scatter "$soft" "$firm" --plot "$folder/scatter.svg"

say "4. What was measured on the course with each: is there a difference, or is it chance?"
"$caber" shots models/shots/soft-tip.csv models/shots/firm-tip.csv --simulated "$soft,$firm" \
    --plot "$folder/shots.svg"

say "The pictures and setups are in $folder. All of it is invented data."

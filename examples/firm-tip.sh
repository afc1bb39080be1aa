#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
#
# What does a firmer tip do to dynamic loft? The same player swings the same shaft three times: as it
# is, and with the bending and torsional stiffness of its tip 300 mm a fifth lower and a fifth
# higher. Frequency hardly sees the difference (the cpm column); the loft that is delivered does.
#
#   firm-tip.sh [SETUP]        SETUP is models/setups/neutral-smooth.yaml unless given
#
# The tip is changed by --set, no file is touched; --get prints the values by name, separated by
# blanks. Set CABER to the program when it is not on the PATH. The demonstration data is invented.
set -eu
export LC_ALL=C # numbers with a decimal point, whatever the shell prints elsewhere
caber=${CABER:-caber}
setup=${1:-models/setups/neutral-smooth.yaml}

printf '%-12s %7s %7s %9s %11s %9s %9s %7s\n' \
    tip cpm speed lead 'loft change' loft closing droop
printf '%-12s %7s %7s %9s %11s %9s %9s %7s\n' '' '' m/s mm deg deg deg mm
for scale in 0.8 1.0 1.2; do
    case $scale in
    0.8) tip='20 % softer' ;;
    1.0) tip='as it is' ;;
    1.2) tip='20 % firmer' ;;
    esac
    # The words after --set override the setup: one section, from the tip to 300 mm.
    set -- --set 'shaft.sections[0].from=0 mm' --set 'shaft.sections[0].to=300 mm' \
        --set "shaft.sections[0].ei_scale=$scale" --set "shaft.sections[0].gj_scale=$scale"
    cpm=$("$caber" bench "$setup" "$@" --get cpm)
    values=$("$caber" swing "$setup" "$@" --get \
        head_speed_mps,lead_deflection_mm,loft_change_deg,delivered_loft_deg,face_rotation_deg,droop_mm)
    # shellcheck disable=SC2086 # the values are to be split at the blanks
    printf '%-12s %7.1f %7.2f %9.1f %11.2f %9.2f %9.2f %7.1f\n' "$tip" "$cpm" $values
done

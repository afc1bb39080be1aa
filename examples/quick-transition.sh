#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
#
# What does a quicker transition do? The same player loads the handle with the same couple, reached
# within 0.03, 0.06 and 0.12 s. A quick rise loads the shaft at a higher rate and bends it further
# back; what of that is left at impact is another matter: compare the loft change.
#
#   quick-transition.sh [SETUP]        SETUP is models/setups/neutral-smooth.yaml unless given
#
# Set CABER to the program when it is not on the PATH. The demonstration data is invented.
set -eu
export LC_ALL=C # numbers with a decimal point, whatever the shell prints elsewhere
caber=${CABER:-caber}
setup=${1:-models/setups/neutral-smooth.yaml}

printf '%6s %12s %10s %9s %9s %11s\n' rise 'peak moment' 'load rate' 'peak lag' speed 'loft change'
printf '%6s %12s %10s %9s %9s %11s\n' s 'N m' 'N m/s' mm m/s deg
for rise in 0.03 0.06 0.12; do
    values=$("$caber" swing "$setup" --set "load.grip.rise=$rise s" --get \
        peak_handle_moment_nm,peak_load_rate_nm_s,peak_lag_mm,head_speed_mps,loft_change_deg)
    # shellcheck disable=SC2086 # the values are to be split at the blanks
    printf '%6s %12.2f %10.0f %9.1f %9.2f %11.2f\n' "$rise" $values
done

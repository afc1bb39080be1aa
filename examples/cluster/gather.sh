#!/bin/bash
# SPDX-License-Identifier: GPL-3.0-or-later
#
# The last job of a study that array.sh has run in shards: joins FILE.1-of-N.h5 to FILE.N-of-N.h5 into FILE.h5.
#
#   sbatch --dependency=afterok:TASK gather.sh FILE.h5 SHARDS
#
# Every shard is held against its checksums first; one that is missing, damaged or of another study is an
# error that names it, and FILE.h5 stays as it was. The shards are left where they are.
# Outside Slurm: ./gather.sh FILE.h5 8
#
# Set CABER to the program when it is not on the PATH.

#SBATCH --job-name=caber-gather
#SBATCH --output=%x-%j.log
# One core reads, packs and writes; its speed is in README.md.
#SBATCH --ntasks=1
#SBATCH --mem=2G
#SBATCH --time=01:00:00
set -u

file=${1:?usage: gather.sh FILE.h5 SHARDS}
shards=${2:?usage: gather.sh FILE.h5 SHARDS}

parts=()
for ((shard = 1; shard <= shards; shard++)); do
    parts+=("${file%.h5}.$shard-of-$shards.h5")
done
# A job that is queued again finds what it may have written before.
exec "${CABER:-caber}" gather "$file" "${parts[@]}" --replace

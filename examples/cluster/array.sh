#!/bin/bash
# SPDX-License-Identifier: GPL-3.0-or-later
#
# A study as a Slurm job array: every task runs one shard of it on one node, and needs nothing of the others.
#
#   task=$(sbatch --parsable --array=1-8 array.sh STUDY FILE.h5)
#   sbatch --dependency=afterok:$task gather.sh FILE.h5 8
#
# Task K of N writes FILE.K-of-N.h5; gather.sh, which begins when all tasks have ended well, joins them into FILE.h5,
# byte for byte what one run on one machine would have written. To run some tasks again give the number of
# shards as well: sbatch --array=3,5 array.sh STUDY FILE.h5 8
#
# Outside Slurm, one shard: SLURM_ARRAY_TASK_ID=3 ./array.sh STUDY FILE.h5 8
#
# Set CABER to the program when it is not on the PATH.

#SBATCH --job-name=caber
#SBATCH --array=1-8
#SBATCH --output=%x-%A-%a.log
# One task, all of whose threads share one plan. Swings are processor-bound: take whole cores.
#SBATCH --ntasks=1
#SBATCH --cpus-per-task=8
#SBATCH --mem-per-cpu=250M
# 10^6 swings of 5 ms in 8 shards of 8 threads take 80 seconds. README.md works out other sizes.
#SBATCH --time=01:00:00
# Two minutes before that the script is told (SIGUSR1, to the script alone): it lets the program finish what
# it has begun, and queues the task again. The next run goes on from the file.
#SBATCH --signal=B:USR1@120
#SBATCH --requeue
#SBATCH --open-mode=append
set -u

study=${1:?usage: array.sh STUDY FILE.h5 [SHARDS]}
file=${2:?usage: array.sh STUDY FILE.h5 [SHARDS]}
shards=${3:-${SLURM_ARRAY_TASK_MAX:?the number of shards, outside a job array}}
shard=${SLURM_ARRAY_TASK_ID:?the shard to run, 1 to $shards}
again=

# At the time limit the task is queued again; a task that is cancelled is not.
trap 'again=yes; kill -TERM "$caber"' USR1
trap 'kill -TERM "$caber"' TERM INT

# --resume begins when there is nothing to go on from, so the first run and all later ones are the same line.
"${CABER:-caber}" sweep "$study" --output "${file%.h5}.$shard-of-$shards.h5" --shard "$shard/$shards" --resume \
    --threads "${SLURM_CPUS_PER_TASK:-1}" &
caber=$!

# A signal ends `wait` before its time: wait until the program is gone, then for what it left.
while kill -0 "$caber" 2>/dev/null; do wait "$caber"; done
wait "$caber"
status=$?
if [ -n "$again" ] && [ "$status" -ne 0 ] && [ -n "${SLURM_JOB_ID:-}" ]; then
    scontrol requeue "$SLURM_JOB_ID"
fi
exit "$status"

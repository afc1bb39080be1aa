#!/bin/bash
# SPDX-License-Identifier: GPL-3.0-or-later
#
# A study as one MPI job under Slurm: all processes share its cases, and one file is written as they go.
#
#   sbatch --ntasks=64 ranks.sh STUDY FILE.h5
#   sbatch --ntasks=8 --cpus-per-task=32 ranks.sh STUDY FILE.h5     8 processes of 32 threads
#
# Outside Slurm, on 4 processes of one machine: SLURM_NTASKS=4 ./ranks.sh STUDY FILE.h5
#
# The study and the models it names must be readable under the same path on every node. Set CABER_MPI to the
# program when it is not on the PATH, and MPIRUN to another launcher, such as MPIRUN="srun --mpi=pmix".

#SBATCH --job-name=caber-mpi
#SBATCH --output=%x-%j.log
# A process a core; which nodes they are on does not matter, for they hardly talk. Threads of one process
# share one plan, which saves memory where the plan is large.
#SBATCH --ntasks=16
#SBATCH --cpus-per-task=1
#SBATCH --mem-per-cpu=250M
# 10^6 swings of 5 ms on 16 processes take 5 minutes. README.md works out other sizes.
#SBATCH --time=01:00:00
# Two minutes before that the script is told (SIGUSR1, to the script alone): it lets the program finish what
# it has begun, and queues the job again. The next run goes on from the file.
#SBATCH --signal=B:USR1@120
#SBATCH --requeue
#SBATCH --open-mode=append
set -u

study=${1:?usage: ranks.sh STUDY FILE.h5}
file=${2:?usage: ranks.sh STUDY FILE.h5}
again=

# Launchers pass SIGUSR1 on to the program, which takes it for a request to end; SIGTERM they make a killed
# job of. At the time limit the job is queued again; a job that is cancelled is not.
trap 'again=yes; kill -USR1 "$launcher"' USR1
trap 'kill -USR1 "$launcher"' TERM INT

# --resume begins when there is nothing to go on from, so the first run and all later ones are the same line.
# --quiet: the launcher keeps to itself what the program's exit status says; --bind-to none: it would put all
# threads of a process on one core.
# shellcheck disable=SC2086 # the launcher may be several words
${MPIRUN:-mpirun --quiet --bind-to none} -n "${SLURM_NTASKS:-2}" "${CABER_MPI:-caber-mpi}" sweep "$study" \
    --output "$file" --resume --threads "${SLURM_CPUS_PER_TASK:-1}" &
launcher=$!

# A signal ends `wait` before its time: wait until the program is gone, then for what it left.
while kill -0 "$launcher" 2>/dev/null; do wait "$launcher"; done
wait "$launcher"
status=$?
if [ -n "$again" ] && [ "$status" -ne 0 ] && [ -n "${SLURM_JOB_ID:-}" ]; then
    scontrol requeue "$SLURM_JOB_ID"
fi
exit "$status"

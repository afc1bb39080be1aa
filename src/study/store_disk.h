/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * An HDF5 file that is written under another name and takes its own when it is whole.
 *
 * HDF5 cannot be told to give up a file whose disk is full: it keeps what it could not write, and
 * tries again until the process ends. So it writes through a driver of ours, which notes the first
 * error and from then on only says that it wrote.
 *
 * HDF5 also trusts the texts and lists of a file, which have no checksums, and falls over damaged
 * ones. So what describes the numbers comes first in the file, and behind its end, where HDF5 does
 * not look, stands a seal of that part. Who changes the file with another program takes the seal
 * away. */
#ifndef STUDY_STORE_DISK_H
#define STUDY_STORE_DISK_H

#include <hdf5.h>
#include <stdint.h>

#include "caber.h"

typedef struct store_disk {
    char *path, *part; /* owned */
    int fd;
    int error;               /* the errno of the first write that failed; 0 = none */
    hid_t driver;            /* of HDF5 */
    hid_t file;              /* the open HDF5 file, until it is closed */
    uint64_t allocated, end; /* of the file, as HDF5 sees it */
    uint64_t head;           /* how much of it describes the numbers; 0 = not known yet */
} store_disk;

/* Begins a file with these creation properties. Fails with CABER_IO_ERROR, CABER_NO_MEMORY or
 * CABER_INTERNAL. Ends with commit or abandon. */
caber_status store_disk_begin(const char *path, hid_t creation, store_disk *disk,
                              caber_message *message);
/* Says that all that describes the numbers is there, and only numbers follow. */
void store_disk_described(store_disk *disk);
/* Closes the file, all of whose other ids must be closed, and gives it its name. */
caber_status store_disk_commit(store_disk *disk, caber_message *message);
/* Removes what there is. When a write had failed, says so in its message and status; otherwise
 * keeps those given. */
caber_status store_disk_abandon(store_disk *disk, caber_status status, caber_message *message);

/* Given an open file; false when it has a seal, and what describes its numbers is not what was
 * sealed. */
bool store_disk_check(int fd);

/* Brings what a folder says of its file `path` to the disk. */
void store_disk_settle(const char *path);

#endif

/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/store_disk.h"

#include <errno.h>
#include <fcntl.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/message.h"

/* ------------------------------------------------------------------ the driver */

/* What HDF5 knows of an open file; its own part comes first. */
typedef struct driver_file {
    H5FD_t own;
    store_disk *disk;
    haddr_t allocated, end;
} driver_file;

static H5FD_t *driver_open(const char *name, unsigned flags, hid_t access, haddr_t most)
{
    (void)name;
    (void)flags;
    (void)most;
    store_disk *const *disk = H5Pget_driver_info(access);
    driver_file *f = disk ? calloc(1, sizeof *f) : NULL;
    if (!f)
        return NULL;
    f->disk = *disk;
    return &f->own;
}

static herr_t driver_close(H5FD_t *file)
{
    free(file);
    return 0;
}

/* As HDF5's own driver for a POSIX file has it. */
static herr_t driver_query(const H5FD_t *file, unsigned long *flags)
{
    (void)file;
    *flags = H5FD_FEAT_AGGREGATE_METADATA | H5FD_FEAT_ACCUMULATE_METADATA | H5FD_FEAT_DATA_SIEVE |
             H5FD_FEAT_AGGREGATE_SMALLDATA | H5FD_FEAT_DEFAULT_VFD_COMPATIBLE;
    return 0;
}

static haddr_t driver_get_eoa(const H5FD_t *file, H5FD_mem_t type)
{
    (void)type;
    return ((const driver_file *)file)->allocated;
}

static herr_t driver_set_eoa(H5FD_t *file, H5FD_mem_t type, haddr_t address)
{
    (void)type;
    ((driver_file *)file)->allocated = address;
    return 0;
}

static haddr_t driver_get_eof(const H5FD_t *file, H5FD_mem_t type)
{
    (void)type;
    return ((const driver_file *)file)->end;
}

/* What was not written reads as zeros. */
static herr_t driver_read(H5FD_t *file, H5FD_mem_t type, hid_t transfer, haddr_t at, size_t size,
                          void *buffer)
{
    (void)type;
    (void)transfer;
    const driver_file *f = (const driver_file *)file;
    char *to = buffer;
    while (size) {
        ssize_t got = pread(f->disk->fd, to, size, (off_t)at);
        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0)
            return -1;
        if (got == 0)
            break;
        to += got;
        at += (haddr_t)got;
        size -= (size_t)got;
    }
    memset(to, 0, size);
    return 0;
}

static herr_t driver_write(H5FD_t *file, H5FD_mem_t type, hid_t transfer, haddr_t at, size_t size,
                           const void *buffer)
{
    (void)type;
    (void)transfer;
    driver_file *f = (driver_file *)file;
    const char *from = buffer;
    if (at + size > f->end)
        f->end = at + size;
    while (size && !f->disk->error) {
        ssize_t put = pwrite(f->disk->fd, from, size, (off_t)at);
        if (put < 0 && errno == EINTR)
            continue;
        if (put <= 0) {
            f->disk->error = put < 0 ? errno : ENOSPC;
            break;
        }
        from += put;
        at += (haddr_t)put;
        size -= (size_t)put;
    }
    return 0;
}

static herr_t driver_truncate(H5FD_t *file, hid_t transfer, hbool_t closing)
{
    (void)transfer;
    (void)closing;
    driver_file *f = (driver_file *)file;
    if (!f->disk->error && ftruncate(f->disk->fd, (off_t)f->allocated) != 0)
        f->disk->error = errno;
    f->end = f->allocated;
    return 0;
}

static const H5FD_class_t driver_class = {
#ifdef H5FD_CLASS_VERSION
    .version = H5FD_CLASS_VERSION,    /* HDF5 1.14 */
    .value = (H5FD_class_value_t)511, /* of the numbers that are free for one's own tests */
#endif
    .name = "caber",
    .maxaddr = INT64_MAX,
    .fc_degree = H5F_CLOSE_WEAK,
    .fapl_size = sizeof(store_disk *),
    .open = driver_open,
    .close = driver_close,
    .query = driver_query,
    .get_eoa = driver_get_eoa,
    .set_eoa = driver_set_eoa,
    .get_eof = driver_get_eof,
    .read = driver_read,
    .write = driver_write,
    .truncate = driver_truncate,
    .fl_map = H5FD_FLMAP_DICHOTOMY,
};

/* ------------------------------------------------------------------ a file */

static caber_status disk_error(const store_disk *d, int error, caber_message *message)
{
    return message_set(message, CABER_IO_ERROR, "%s: cannot write: %s", d->path, strerror(error));
}

/* Opens the other name. What stands under it was left by a process that was killed. */
static caber_status disk_open(store_disk *d, caber_message *message)
{
    const size_t room = strlen(d->path) + sizeof ".part";
    d->part = malloc(room);
    if (!d->part)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    snprintf(d->part, room, "%s.part", d->path);
    struct stat there;
    const mode_t mode = stat(d->path, &there) == 0 ? there.st_mode & 0777 : 0666;
    unlink(d->part);
    d->fd = open(d->part, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, mode);
    return d->fd < 0 ? disk_error(d, errno, message) : message_clear(message);
}

caber_status store_disk_begin(const char *path, hid_t creation, store_disk *d,
                              caber_message *message)
{
    *d = (store_disk){.fd = -1, .driver = H5I_INVALID_HID, .file = H5I_INVALID_HID};
    d->path = strdup(path);
    caber_status status =
        d->path ? disk_open(d, message) : message_set(message, CABER_NO_MEMORY, "out of memory");
    if (status != CABER_OK)
        return store_disk_abandon(d, status, message);
    d->driver = H5FDregister(&driver_class);
    hid_t access = H5Pcreate(H5P_FILE_ACCESS);
    /* The format of HDF5 1.10: its descriptions have checksums, so that damage to them is found. */
    if (d->driver >= 0 && access >= 0 && H5Pset_driver(access, d->driver, &d) >= 0 &&
        H5Pset_libver_bounds(access, H5F_LIBVER_V110, H5F_LIBVER_V110) >= 0)
        d->file = H5Fcreate(d->part, H5F_ACC_TRUNC, creation, access);
    H5Pclose(access);
    if (d->file >= 0)
        return message_clear(message);
    return store_disk_abandon(
        d, message_set(message, CABER_INTERNAL, "%s: HDF5 could not make the file", path), message);
}

void store_disk_settle(const char *path)
{
    char *folder = strdup(path);
    if (!folder)
        return;
    char *slash = strrchr(folder, '/');
    if (slash)
        slash[slash == folder ? 1 : 0] = '\0';
    int fd = open(slash ? folder : ".", O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (fd >= 0) {
        fsync(fd); /* some file systems cannot, and have it without */
        close(fd);
    }
    free(folder);
}

/* Closes all that is open; false when HDF5 could not. */
static bool disk_close(store_disk *d)
{
    bool fine = d->file >= 0 && H5Fclose(d->file) >= 0;
    d->file = H5I_INVALID_HID;
    if (d->driver >= 0)
        H5FDunregister(d->driver);
    d->driver = H5I_INVALID_HID;
    if (d->fd >= 0 && !d->error && fsync(d->fd) != 0)
        d->error = errno;
    if (d->fd >= 0 && close(d->fd) != 0 && !d->error)
        d->error = errno;
    d->fd = -1;
    return fine;
}

static void disk_free(store_disk *d)
{
    free(d->path);
    free(d->part);
    d->path = d->part = NULL;
}

caber_status store_disk_commit(store_disk *d, caber_message *message)
{
    const bool closed = disk_close(d);
    caber_status status = CABER_OK;
    if (!closed)
        status = message_set(message, CABER_INTERNAL, "%s: HDF5 could not close the file", d->path);
    if (closed && !d->error && rename(d->part, d->path) != 0)
        d->error = errno;
    if (!closed || d->error)
        return store_disk_abandon(d, status, message);
    store_disk_settle(d->path);
    disk_free(d);
    return message_clear(message);
}

caber_status store_disk_abandon(store_disk *d, caber_status status, caber_message *message)
{
    disk_close(d);
    if (d->error)
        status = disk_error(d, d->error, message);
    if (d->part)
        unlink(d->part);
    disk_free(d);
    return status;
}

/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/store_disk.h"

#include <errno.h>
#include <fcntl.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <zlib.h>

#include "base/message.h"

/* Reads until the end of the file; -1 when it cannot. */
static ssize_t disk_get(int fd, uint64_t at, void *bytes, size_t size)
{
    size_t have = 0;
    while (have < size) {
        ssize_t got = pread(fd, (char *)bytes + have, size - have, (off_t)(at + have));
        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0)
            return -1;
        if (got == 0)
            break;
        have += (size_t)got;
    }
    return (ssize_t)have;
}

/* Writes, unless a write has failed already. */
static void disk_put(store_disk *d, uint64_t at, const void *bytes, size_t size)
{
    const char *from = bytes;
    while (size && !d->error) {
        ssize_t put = pwrite(d->fd, from, size, (off_t)at);
        if (put < 0 && errno == EINTR)
            continue;
        if (put <= 0) {
            d->error = put < 0 ? errno : ENOSPC;
            break;
        }
        from += put;
        at += (uint64_t)put;
        size -= (size_t)put;
    }
}

/* ------------------------------------------------------------------ the driver */

/* What HDF5 knows of an open file; its own part comes first. */
typedef struct driver_file {
    H5FD_t own;
    store_disk *disk;
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
    return ((const driver_file *)file)->disk->allocated;
}

static herr_t driver_set_eoa(H5FD_t *file, H5FD_mem_t type, haddr_t address)
{
    (void)type;
    ((driver_file *)file)->disk->allocated = address;
    return 0;
}

static haddr_t driver_get_eof(const H5FD_t *file, H5FD_mem_t type)
{
    (void)type;
    return ((const driver_file *)file)->disk->end;
}

/* What was not written reads as zeros. */
static herr_t driver_read(H5FD_t *file, H5FD_mem_t type, hid_t transfer, haddr_t at, size_t size,
                          void *buffer)
{
    (void)type;
    (void)transfer;
    const ssize_t got = disk_get(((const driver_file *)file)->disk->fd, at, buffer, size);
    if (got < 0)
        return -1;
    memset((char *)buffer + got, 0, size - (size_t)got);
    return 0;
}

static herr_t driver_write(H5FD_t *file, H5FD_mem_t type, hid_t transfer, haddr_t at, size_t size,
                           const void *buffer)
{
    (void)type;
    (void)transfer;
    store_disk *d = ((driver_file *)file)->disk;
    if (at + size > d->end)
        d->end = at + size;
    disk_put(d, at, buffer, size);
    return 0;
}

static herr_t driver_truncate(H5FD_t *file, hid_t transfer, hbool_t closing)
{
    (void)transfer;
    (void)closing;
    store_disk *d = ((driver_file *)file)->disk;
    if (!d->error && ftruncate(d->fd, (off_t)d->allocated) != 0)
        d->error = errno;
    d->end = d->allocated;
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

/* ------------------------------------------------------------------ the seal of the description */

static const char disk_mark[8] = "CABERSL\n";

/* What stands behind the end of the file. */
typedef struct disk_seal {
    char mark[8];
    uint64_t head;     /* bytes that are sealed, from the beginning */
    uint32_t crc, own; /* of those bytes, and of this seal up to here */
} disk_seal;

/* The CRC of the first bytes of a file; false when it cannot be read. */
static bool disk_crc(int fd, uint64_t size, uint32_t *crc)
{
    unsigned char part[1 << 14];
    uLong sum = crc32_z(0, NULL, 0);
    for (uint64_t at = 0; at < size;) {
        const size_t want = size - at < sizeof part ? (size_t)(size - at) : sizeof part;
        if (disk_get(fd, at, part, want) != (ssize_t)want)
            return false;
        sum = crc32_z(sum, part, want);
        at += want;
    }
    *crc = (uint32_t)sum;
    return true;
}

static uint32_t disk_seal_own(const disk_seal *seal)
{
    return (uint32_t)crc32_z(crc32_z(0, NULL, 0), (const void *)seal, offsetof(disk_seal, own));
}

static void disk_seal_put(store_disk *d)
{
    disk_seal seal = {.head = d->head};
    memcpy(seal.mark, disk_mark, sizeof seal.mark);
    if (!d->head || d->error)
        return;
    if (seal.head > d->end)
        seal.head = d->end; /* HDF5 gave back what it had in reserve */
    if (!disk_crc(d->fd, seal.head, &seal.crc)) {
        d->error = errno ? errno : EIO;
        return;
    }
    seal.own = disk_seal_own(&seal);
    disk_put(d, d->end, &seal, sizeof seal);
}

bool store_disk_check(int fd)
{
    struct stat about;
    disk_seal seal;
    uint32_t crc;
    if (fstat(fd, &about) != 0 || about.st_size < (off_t)sizeof seal ||
        disk_get(fd, (uint64_t)about.st_size - sizeof seal, &seal, sizeof seal) !=
            (ssize_t)sizeof seal ||
        memcmp(seal.mark, disk_mark, sizeof seal.mark) != 0 || seal.own != disk_seal_own(&seal))
        return true;
    return disk_crc(fd, seal.head, &crc) && crc == seal.crc;
}

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
    if (fine)
        disk_seal_put(d);
    if (d->fd >= 0 && !d->error && fsync(d->fd) != 0)
        d->error = errno;
    if (d->fd >= 0 && close(d->fd) != 0 && !d->error)
        d->error = errno;
    d->fd = -1;
    return fine;
}

void store_disk_described(store_disk *d)
{
    if (H5Fflush(d->file, H5F_SCOPE_GLOBAL) >= 0)
        d->head = d->allocated;
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

/* Notes every write, cut and sync that a process makes in one folder, and fails some when told to.
 *
 * Loaded before libc (LD_PRELOAD) by tools/proofs/power.py, which builds it. POWER_FOLDER is the
 * folder that is watched, POWER_LOG the file of notes: for each act one letter (W write, T cut to a
 * length, S sync, U unlink), then lengths of name and data and the place, then name and data.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <pthread.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static pthread_mutex_t pen = PTHREAD_MUTEX_INITIALIZER;
static char folder[PATH_MAX];
static size_t folder_length;
static int notes = -1;
static long after = -1; /* acts until one fails; negative: none does */
static int mask, always, number;

static ssize_t (*real_write)(int, const void *, size_t);
static ssize_t (*real_pwrite)(int, const void *, size_t, off64_t);
static int (*real_truncate)(int, off64_t);
static int (*real_fsync)(int);
static int (*real_fdatasync)(int);
static int (*real_unlink)(const char *);

__attribute__((constructor)) static void begin(void)
{
    const char *watched = getenv("POWER_FOLDER"), *log = getenv("POWER_LOG");
    real_write = dlsym(RTLD_NEXT, "write");
    real_pwrite = dlsym(RTLD_NEXT, "pwrite64");
    real_truncate = dlsym(RTLD_NEXT, "ftruncate64");
    real_fsync = dlsym(RTLD_NEXT, "fsync");
    real_fdatasync = dlsym(RTLD_NEXT, "fdatasync");
    real_unlink = dlsym(RTLD_NEXT, "unlink");
    if (!watched)
        return;
    snprintf(folder, sizeof folder, "%s", watched);
    folder_length = strlen(folder);
    if (log)
        notes = open(log, O_WRONLY | O_CREAT | O_TRUNC | O_APPEND, 0600);
}

/* Let the act number `count` from now fail (and all after it), of the kinds in `kinds`. */
void power_fail(long count, int kinds, int for_good, int error)
{
    after = count;
    mask = kinds;
    always = for_good;
    number = error;
}

static int inside(const char *path)
{
    return folder_length && !strncmp(path, folder, folder_length)
        && (path[folder_length] == '/' || !path[folder_length]);
}

static int watched(int handle, char *path)
{
    char link[64];
    ssize_t length;
    if (!folder_length)
        return 0;
    snprintf(link, sizeof link, "/proc/self/fd/%d", handle);
    length = readlink(link, path, PATH_MAX - 1);
    if (length <= 0)
        return 0;
    path[length] = 0;
    return inside(path);
}

static int fails(int kind)
{
    if (after < 0 || !(mask & kind))
        return 0;
    if (after > 0) {
        after--;
        return 0;
    }
    if (!always)
        after = -1;
    errno = number;
    return 1;
}

static void note(char act, const char *path, const void *data, uint64_t length, uint64_t place)
{
    struct __attribute__((packed)) { char act; uint32_t name; uint64_t length, place; } head;
    const char *name = path + folder_length + (path[folder_length] == '/');
    if (notes < 0)
        return;
    head.act = act;
    head.name = strlen(name);
    head.length = length;
    head.place = place;
    pthread_mutex_lock(&pen);
    real_write(notes, &head, sizeof head);
    real_write(notes, name, head.name);
    if (length)
        real_write(notes, data, length);
    pthread_mutex_unlock(&pen);
}

ssize_t pwrite64(int handle, const void *data, size_t length, off64_t place)
{
    char path[PATH_MAX];
    int ours = watched(handle, path);
    ssize_t done;
    if (ours && fails(1))
        return -1;
    done = real_pwrite(handle, data, length, place);
    if (ours && done > 0)
        note('W', path, data, done, place);
    return done;
}

ssize_t pwrite(int handle, const void *data, size_t length, off_t place)
{
    return pwrite64(handle, data, length, place);
}

ssize_t write(int handle, const void *data, size_t length)
{
    char path[PATH_MAX];
    int ours = handle > 2 && handle != notes && watched(handle, path);
    off64_t place = ours ? lseek64(handle, 0, SEEK_CUR) : 0;
    ssize_t done;
    if (ours && fails(1))
        return -1;
    done = real_write(handle, data, length);
    if (ours && done > 0)
        note('W', path, data, done, place);
    return done;
}

int ftruncate64(int handle, off64_t length)
{
    char path[PATH_MAX];
    int ours = watched(handle, path), done;
    if (ours && fails(1))
        return -1;
    done = real_truncate(handle, length);
    if (ours && !done)
        note('T', path, NULL, 0, length);
    return done;
}

int ftruncate(int handle, off_t length)
{
    return ftruncate64(handle, length);
}

static int synced(int handle, int (*real)(int))
{
    char path[PATH_MAX];
    int ours = watched(handle, path), done;
    if (ours && fails(2))
        return -1;
    done = real(handle);
    if (ours && !done)
        note('S', path, NULL, 0, 0);
    return done;
}

int fsync(int handle)
{
    return synced(handle, real_fsync);
}

int fdatasync(int handle)
{
    return synced(handle, real_fdatasync);
}

int unlink(const char *path)
{
    int done = real_unlink(path);
    if (!done && inside(path))
        note('U', path, NULL, 0, 0);
    return done;
}

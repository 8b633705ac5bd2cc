#include "drivers/base/file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "drivers/base/memory.h"

/* First guess of a file's size: most sweeps fit, so that most files take one read. */
#define FIRST_READ ((size_t)256 << 10)

static bool read_all(int fd, const char *path, size_t ceiling, struct text *out, struct error *e)
{
    size_t room = out->capacity > FIRST_READ ? out->capacity - 1 : FIRST_READ;

    for (;;) {
        ssize_t got;

        if (room > ceiling + 1) room = ceiling + 1;
        out->ceiling = ceiling + 1;
        if (!text_reserve(out, room)) return text_ok(out, path, e);
        got = read(fd, out->data + out->length, room - out->length);
        if (got < 0) {
            if (errno == EINTR) continue;
            return error_set(e, ERROR_INPUT, "%s: cannot be read: %s", path, strerror(errno));
        }
        if (got == 0) break;
        out->length += (size_t)got;
        if (out->length > ceiling)
            return error_set(e, ERROR_INPUT,
                             "%s: longer than %zu bytes, which is more than such a "
                             "file may have",
                             path, ceiling);
        if (out->length == room) room *= 2;
    }
    out->data[out->length] = '\0';
    return true;
}

bool file_read(const char *path, size_t ceiling, struct text *out, struct error *e)
{
    struct stat status;
    int fd;
    bool ok;

    text_reset(out);
    /* Non-blocking, so that opening a pipe by mistake does not wait for its writer. */
    fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);
    if (fd < 0) return error_set(e, ERROR_INPUT, "%s: cannot be opened: %s", path, strerror(errno));
    if (fstat(fd, &status) != 0 || !S_ISREG(status.st_mode))
        ok = error_set(e, ERROR_INPUT, "%s: is not a file: name a regular file", path);
    else if ((size_t)status.st_size > ceiling)
        ok = error_set(e, ERROR_INPUT,
                       "%s: longer than %zu bytes, which is more than such a file may have", path,
                       ceiling);
    else
        ok = read_all(fd, path, ceiling, out, e);
    (void)close(fd);
    if (!ok) text_reset(out);
    return ok;
}

static bool write_all(int fd, const char *bytes, size_t length)
{
    while (length > 0) {
        ssize_t put = write(fd, bytes, length);

        if (put < 0 && errno == EINTR) continue;
        if (put < 0) return false;
        bytes += put;
        length -= (size_t)put;
    }
    return true;
}

/* Syncs the folder that holds `path`, so that the new name survives a power cut. */
static bool sync_folder_of(const char *path, struct error *e)
{
    const char *slash = strrchr(path, '/');
    char *folder = slash ? memory_copy_bytes(path, slash == path ? 1 : (size_t)(slash - path), e)
                         : memory_copy_text(".", e);
    bool ok;
    int fd;

    if (!folder) return false;
    fd = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    ok = fd >= 0 && fsync(fd) == 0;
    if (!ok)
        (void)error_set(e, ERROR_STORE, "%s: the folder cannot be synced: %s", folder,
                        strerror(errno));
    if (fd >= 0) (void)close(fd);
    memory_free(folder);
    return ok;
}

bool file_write(const char *path, const char *bytes, size_t length, enum file_durability durability,
                struct error *e)
{
    struct text aside = {0};
    bool ok = false;
    int fd = -1;

    text_addf(&aside, "%s.%ld.part", path, (long)getpid());
    if (!text_ok(&aside, "a file name", e)) goto done;
    fd = open(aside.data, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0666);
    ok = fd >= 0 && write_all(fd, bytes, length) && (durability == FILE_PLAIN || fsync(fd) == 0);
    if (fd >= 0) ok = close(fd) == 0 && ok;
    if (ok) ok = rename(aside.data, path) == 0;
    if (!ok) {
        (void)error_set(e, ERROR_STORE, "%s: cannot be written: %s", path, strerror(errno));
        if (fd >= 0) (void)unlink(aside.data);
        goto done;
    }
    if (durability == FILE_DURABLE) ok = sync_folder_of(path, e);
done:
    text_clear(&aside);
    return ok;
}

bool file_make_folder(const char *path, struct error *e)
{
    char *copy = memory_copy_text(path, e);
    struct stat status;
    bool ok = true;

    if (!copy) return false;
    for (char *p = copy + (*copy == '/'); ok && *p; p++) {
        if (*p != '/') continue;
        *p = '\0';
        ok = mkdir(copy, 0777) == 0 || errno == EEXIST || errno == EISDIR;
        *p = '/';
    }
    if (ok) ok = mkdir(copy, 0777) == 0 || errno == EEXIST;
    if (!ok)
        (void)error_set(e, ERROR_STORE, "%s: the folder cannot be made: %s", path, strerror(errno));
    if (ok && (stat(path, &status) != 0 || !S_ISDIR(status.st_mode)))
        ok = error_set(e, ERROR_STORE, "%s: is in the way: a folder is needed there", path);
    memory_free(copy);
    return ok;
}

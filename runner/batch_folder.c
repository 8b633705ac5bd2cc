#include "runner/batch_folder.h"

#include <errno.h>
#include <fcntl.h>
#include <fts.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>
#include <sys/vfs.h>
#include <unistd.h>

#include "drivers/base/file.h"

#define MOUNTS_FILE "/proc/self/mountinfo"
#define FUSE_MAGIC 0x65735546UL

bool batch_path(struct text *out, const char *folder, const char *name, struct error *e)
{
    text_reset(out);
    text_addf(out, "%s/%s", folder, name);
    return text_ok(out, "a file name", e);
}

bool batch_has(const char *folder, const char *name)
{
    /* Without memory of its own: "not there" must never mean "no memory". */
    int fd = open(folder, O_PATH | O_DIRECTORY | O_CLOEXEC);
    struct stat status;
    bool there = fd >= 0 && fstatat(fd, name, &status, AT_SYMLINK_NOFOLLOW) == 0;

    if (fd >= 0) (void)close(fd);
    return there;
}

static bool is_plain(char c, bool is_first)
{
    return (c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || c == '-' ||
           c == '_' || (c == '.' && !is_first);
}

void batch_add_name(struct text *out, const char *name)
{
    for (const char *p = name; *p; p++) {
        if (is_plain(*p, p == name))
            text_add_bytes(out, p, 1);
        else
            text_addf(out, "%%%02X", (unsigned)(unsigned char)*p);
    }
}

static bool sync_folder(const char *path, struct error *e)
{
    int fd = open(path, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    bool ok = fd >= 0 && fsync(fd) == 0;

    if (!ok)
        (void)error_set(e, ERROR_STORE, "%s: the folder cannot be synced: %s", path,
                        strerror(errno));
    if (fd >= 0) (void)close(fd);
    return ok;
}

bool batch_make_folder(const char *folder, const char *name, struct error *e)
{
    struct text path = {0};
    char *inner;
    bool ok = batch_path(&path, folder, name, e) && file_make_folder(path.data, e);

    /* Every level is synced, the ones that were there too: who made them may have been killed
     * before. */
    while (ok && (inner = strrchr(path.data + strlen(folder), '/')) != NULL) {
        *inner = '\0';
        ok = sync_folder(path.data, e);
    }
    text_clear(&path);
    return ok;
}

/* Finds the mount of `device` in lines "36 35 98:0 /root /point options ... - type source ...". */
static bool find_mount(const char *mounts, dev_t device, char type[64], char source[256])
{
    for (const char *line = mounts; line && *line; line = strchr(line, '\n')) {
        char numbers[64];
        const char *end, *at, *dash;

        if (*line == '\n') line++;
        end = line + strcspn(line, "\n");
        (void)snprintf(numbers, sizeof numbers, " %u:%u ", major(device), minor(device));
        at = strstr(line, numbers);
        dash = at && at < end ? strstr(at, " - ") : NULL;
        if (!dash || dash >= end) continue;
        dash += 3;
        (void)snprintf(type, 64, "%.*s", (int)strcspn(dash, " \n"), dash);
        dash += strcspn(dash, " \n");
        dash += *dash == ' ';
        (void)snprintf(source, 256, "%.*s", (int)strcspn(dash, " \n"), dash);
        return true;
    }
    return false;
}

const char *batch_network_name(unsigned long magic, const char *mounts, dev_t device, char room[64])
{
    /* From linux/magic.h and, where that lacks them, the file systems' sources (from memory). */
    static const struct {
        unsigned long magic;
        const char *name;
    } known[] = {
        {0x6969, "nfs"},      {0x517b, "smb"},     {0xff534d42, "cifs"}, {0xfe534d42, "smb2"},
        {0x01021997, "9p"},   {0x5346414f, "afs"}, {0x6b414653, "afs"},  {0x73757245, "coda"},
        {0x00c36400, "ceph"}, {0x564c, "ncp"},
    };
    char source[256];

    for (size_t i = 0; i < sizeof known / sizeof *known; i++)
        if ((magic & 0xffffffffUL) == known[i].magic) return known[i].name;
    /* Of a file system in user space only its mount tells: its type, or a source HOST:PATH. */
    if ((magic & 0xffffffffUL) != FUSE_MAGIC || !find_mount(mounts, device, room, source))
        return NULL;
    return strcmp(room, "fuse.sshfs") == 0 || strchr(source, ':') ? room : NULL;
}

bool batch_check_disk(const char *folder, struct error *e)
{
    struct statfs disk;
    struct stat status;
    struct text mounts = {0};
    struct error inner = {0};
    char room[64];
    const char *name;

    if (statfs(folder, &disk) != 0 || stat(folder, &status) != 0)
        return error_set(e, ERROR_STORE, "%s: its disk cannot be looked at: %s", folder,
                         strerror(errno));
    if (!file_read(MOUNTS_FILE, CEILING_XML_FILE, &mounts, &inner)) {
        text_clear(&mounts);
        if (inner.kind == ERROR_MEMORY) return error_set(e, inner.kind, "%s", inner.text);
    }
    name = batch_network_name((unsigned long)disk.f_type, text_words(&mounts), status.st_dev, room);
    text_clear(&mounts);
    return !name || error_set(e, ERROR_STORE,
                              "%s: lies on a network file system (%s), on which a verdict that "
                              "was shown can be lost: choose a folder on a disk of this computer "
                              "and copy the batch when it is closed",
                              folder, name);
}

static int by_name(const FTSENT **a, const FTSENT **b)
{
    return strcmp((*a)->fts_name, (*b)->fts_name);
}

static bool walk(FTS *walk, size_t skip, batch_file_function *take, void *context, struct error *e)
{
    FTSENT *entry;

    while (errno = 0, (entry = fts_read(walk)) != NULL) {
        switch (entry->fts_info) {
        case FTS_D:
        case FTS_DP: break;
        case FTS_DNR:
        case FTS_ERR:
            return error_set(e, ERROR_INPUT, "%s: cannot be read: %s", entry->fts_path,
                             strerror(entry->fts_errno));
        default:
            if (!take(context, entry->fts_path + skip, e)) return false;
        }
    }
    return errno == 0 || error_set(e, ERROR_INPUT, "a folder cannot be read: %s", strerror(errno));
}

bool batch_each_file(const char *folder, const char *name, batch_file_function *take, void *context,
                     struct error *e)
{
    struct text path = {0};
    char *paths[2] = {NULL, NULL};
    FTS *fts = NULL;
    bool ok = batch_path(&path, folder, name, e);

    if (ok && (!*name || batch_has(folder, name))) {
        paths[0] = path.data;
        fts = fts_open(paths, FTS_PHYSICAL | FTS_NOCHDIR, by_name);
        ok = fts ? walk(fts, strlen(folder) + 1, take, context, e)
                 : error_set(e, ERROR_MEMORY, "%s: out of memory", path.data);
        if (fts) (void)fts_close(fts);
    }
    text_clear(&path);
    return ok;
}

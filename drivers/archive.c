#include "drivers/archive.h"

#include <dirent.h>
#include <errno.h>
#include <limits.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>

#include "drivers/archive_name.h"
#include "drivers/base/memory.h"
#include "drivers/base/stop.h"
#include "drivers/sweep_file.h"

/* CSV files of our own and the index: in a folder they are no sweeps. */
static const char *const not_sweeps[] = {"index.csv", "units.csv", "results.csv"};

void archive_clear(struct archive *archive)
{
    for (size_t i = 0; i < archive->n_files; i++) {
        memory_free(archive->files[i].serial);
        memory_free(archive->files[i].path);
        memory_free(archive->files[i].bias_text);
        memory_free(archive->files[i].told.measured_at);
        memory_free(archive->files[i].told.operator_name);
        memory_free(archive->files[i].told.bench);
    }
    memory_free(archive->files);
    memory_free(archive->left_out);
    *archive = (struct archive){0};
}

bool archive_add(struct archive *archive, const char *where, const struct archive_name *name,
                 const char *path, const struct bias_names *biases, double bias_current_ma,
                 struct error *e)
{
    struct archive_file *bigger, *file;

    bigger = memory_grow(archive->files, &archive->capacity, archive->n_files + 1, sizeof *bigger,
                         CEILING_ARCHIVE_FILES, "sweep files", e);
    if (!bigger) return false;
    archive->files = bigger;
    file = &archive->files[archive->n_files++];
    *file = (struct archive_file){.attempt = name->attempt, .bias_current_ma = bias_current_ma};
    file->serial = archive_serial_copy(name->serial, where, e);
    if (!file->serial) return false;
    file->bias_text =
        memory_copy_bytes(name->bias.length ? name->bias.at : "", name->bias.length, e);
    if (!file->bias_text) return false;
    file->path = memory_copy_text(path, e);
    if (!file->path) return false;
    file->has_bias = archive_bias_find(biases, name->bias, &file->step, &file->bias_v);
    return true;
}

/* Of the files that do not fit the layout the first by name is kept, whatever the folder's order.
 */
static bool leave_out(struct archive *archive, const char *path, struct error *e)
{
    char *copy;

    archive->n_left_out++;
    if (archive->left_out && strcmp(archive->left_out, path) <= 0) return true;
    copy = memory_copy_text(path, e);
    if (!copy) return false;
    memory_free(archive->left_out);
    archive->left_out = copy;
    return true;
}

static bool add_by_name(struct archive *archive, const struct archive_request *request,
                        const char *path, struct error *e)
{
    struct archive_name name;

    if (!request->layout) {
        archive_name_by_default(path, &request->biases, &name);
    } else if (!archive_name_by_layout(path, request->layout, &request->biases, &name)) {
        return leave_out(archive, path, e);
    } else if (name.bias.length == 0) {
        name.bias.at = request->biases.names[0].id;
        name.bias.length = strlen(name.bias.at);
    }
    return archive_add(archive, path, &name, path, &request->biases, NAN, e);
}

/* Folders still to be looked into. */
struct folders {
    char **paths;
    unsigned *depths;
    size_t n, capacity, depth_capacity;
};

static void folders_clear(struct folders *folders)
{
    for (size_t i = 0; i < folders->n; i++)
        memory_free(folders->paths[i]);
    memory_free(folders->paths);
    memory_free(folders->depths);
}

static bool folders_add(struct folders *folders, const char *path, unsigned depth, struct error *e)
{
    char **paths;
    unsigned *depths;

    if (depth > CEILING_ARCHIVE_DEPTH)
        return error_set(e, ERROR_INPUT, "%s: lies more than %d folders deep", path,
                         CEILING_ARCHIVE_DEPTH);
    paths = memory_grow(folders->paths, &folders->capacity, folders->n + 1, sizeof *paths,
                        CEILING_ARCHIVE_FOLDERS, "folders", e);
    if (!paths) return false;
    folders->paths = paths;
    depths = memory_grow(folders->depths, &folders->depth_capacity, folders->n + 1, sizeof *depths,
                         CEILING_ARCHIVE_FOLDERS, "folders", e);
    if (!depths) return false;
    folders->depths = depths;
    folders->paths[folders->n] = memory_copy_text(path, e);
    if (!folders->paths[folders->n]) return false;
    folders->depths[folders->n++] = depth;
    return true;
}

static bool is_reserved(const char *name)
{
    for (size_t i = 0; i < sizeof not_sweeps / sizeof *not_sweeps; i++)
        if (strcasecmp(name, not_sweeps[i]) == 0) return true;
    return false;
}

/* Takes one entry of a folder: a sweep file, a folder for later, or nothing of ours. Linked folders
 * are left alone, so that no loop of links can be walked. */
static bool take_entry(struct archive *archive, const struct archive_request *request,
                       struct folders *folders, const char *path, unsigned char kind,
                       unsigned depth, struct error *e)
{
    const char *name = strrchr(path, '/') + 1;
    struct stat status;

    if (kind == DT_UNKNOWN && lstat(path, &status) == 0)
        kind = S_ISDIR(status.st_mode) ? DT_DIR : S_ISREG(status.st_mode) ? DT_REG : DT_LNK;
    if (kind == DT_DIR) return folders_add(folders, path, depth + 1, e);
    if (kind == DT_LNK && stat(path, &status) == 0 && S_ISDIR(status.st_mode)) {
        archive->n_links++;
        return true;
    }
    if (kind != DT_REG && kind != DT_LNK) return true;
    if (!sweep_file_name(path) || is_reserved(name)) return true;
    return add_by_name(archive, request, path, e);
}

static bool list_folder(struct archive *archive, const struct archive_request *request,
                        struct folders *folders, const char *path, unsigned depth, struct error *e)
{
    DIR *directory = opendir(path);
    struct text entry_path = {0};
    bool ok = true;

    if (!directory)
        return error_set(e, ERROR_INPUT, "%s: the folder cannot be read: %s", path,
                         strerror(errno));
    while (ok) {
        const struct dirent *entry;

        errno = 0;
        entry = readdir(directory);
        if (!entry) {
            if (errno)
                ok = error_set(e, ERROR_INPUT, "%s: the folder cannot be read to its end: %s", path,
                               strerror(errno));
            break;
        }
        if (stop_wanted()) {
            ok = stop_error(e);
            break;
        }
        if (entry->d_name[0] == '.') continue;
        text_reset(&entry_path);
        text_addf(&entry_path, "%s%s%s", path, path[strlen(path) - 1] == '/' ? "" : "/",
                  entry->d_name);
        ok = text_ok(&entry_path, "a file name", e) &&
             take_entry(archive, request, folders, entry_path.data, entry->d_type, depth, e);
    }
    (void)closedir(directory);
    text_clear(&entry_path);
    return ok;
}

/* A copy of the path, resolved when it ends in "." or "..", so that the folder's own name is known:
 * it may be a serial number. */
static char *named_path(const char *path, struct error *e)
{
    const char *slash = strrchr(path, '/'), *last = slash ? slash + 1 : path;
    char resolved[PATH_MAX];

    if ((strcmp(last, ".") == 0 || strcmp(last, "..") == 0) && realpath(path, resolved))
        return memory_copy_text(resolved, e);
    return memory_copy_text(path, e);
}

static bool list_path(struct archive *archive, const struct archive_request *request,
                      const char *path, struct error *e)
{
    struct folders folders = {0};
    struct stat status;
    char *named;
    bool ok;

    if (stat(path, &status) != 0)
        return error_set(e, ERROR_INPUT, "%s: cannot be read: %s", *path ? path : "\"\"",
                         strerror(errno));
    if (!S_ISDIR(status.st_mode)) return add_by_name(archive, request, path, e);
    named = named_path(path, e);
    if (!named) return false;
    ok = folders_add(&folders, named, 0, e);
    memory_free(named);
    while (ok && folders.n > 0) {
        char *next = folders.paths[--folders.n];

        ok = list_folder(archive, request, &folders, next, folders.depths[folders.n], e);
        memory_free(next);
    }
    folders_clear(&folders);
    return ok;
}

static int by_unit(const void *a, const void *b)
{
    const struct archive_file *left = a, *right = b;
    int order = strcmp(left->serial, right->serial);

    if (order == 0) order = (left->attempt > right->attempt) - (left->attempt < right->attempt);
    if (order == 0) order = (int)right->has_bias - (int)left->has_bias;
    if (order == 0 && left->has_bias)
        order = (left->bias_v > right->bias_v) - (left->bias_v < right->bias_v);
    return order ? order : strcmp(left->path, right->path);
}

static bool check_doubles(const struct archive *archive, const struct bias_names *biases,
                          struct error *e)
{
    for (size_t i = 1; i < archive->n_files; i++) {
        const struct archive_file *a = &archive->files[i - 1], *b = &archive->files[i];

        if (strcmp(a->serial, b->serial) != 0 || a->attempt != b->attempt || !a->has_bias ||
            !b->has_bias || a->step != b->step)
            continue;
        return error_set(e, ERROR_INPUT,
                         "%s and %s both claim serial %s, attempt %lu, bias %s: keep one of them",
                         a->path, b->path, a->serial, a->attempt, biases->names[a->step].id);
    }
    return true;
}

/* Two different words for one thing; what is not told contradicts nothing. */
static bool contradict(const char *a, const char *b)
{
    return a && b && strcmp(a, b) != 0;
}

/* An attempt has one operator and one bench. */
static bool check_circumstances(const struct archive *archive, struct error *e)
{
    for (size_t first = 0; first < archive->n_files; first = archive_attempt_end(archive, first)) {
        const struct archive_file *a = &archive->files[first];

        for (size_t i = first + 1; i < archive_attempt_end(archive, first); i++) {
            const struct archive_file *b = &archive->files[i];

            if (contradict(a->told.operator_name, b->told.operator_name) ||
                contradict(a->told.bench, b->told.bench))
                return error_set(e, ERROR_INPUT,
                                 "%s and %s are of serial %s, attempt %lu, but name two operators "
                                 "or benches: an attempt has one",
                                 a->path, b->path, a->serial, a->attempt);
        }
    }
    return true;
}

/* The folder that the index's files are relative to: the one named beside it, or its own; "" for
 * the current one. */
static char *index_folder(const struct archive_request *request, struct error *e)
{
    const char *slash = strrchr(request->index, '/');
    struct stat status;

    if (request->n_paths == 0)
        return memory_copy_bytes(
            request->index,
            slash ? (size_t)(slash - request->index) + (slash == request->index) : 0, e);
    if (request->n_paths == 1 && stat(request->paths[0], &status) != 0)
        (void)error_set(e, ERROR_INPUT, "%s: cannot be read: %s",
                        *request->paths[0] ? request->paths[0] : "\"\"", strerror(errno));
    else if (request->n_paths > 1 || !S_ISDIR(status.st_mode))
        (void)error_set(e, ERROR_USAGE,
                        "%s: with --index at most one folder is named: the one that the index's "
                        "files are relative to",
                        request->paths[request->n_paths - 1]);
    else
        return memory_copy_text(request->paths[0], e);
    return NULL;
}

static int by_path(const void *a, const void *b)
{
    const struct archive_file *const *left = a, *const *right = b;

    return strcmp((*left)->path, (*right)->path);
}

/* One sweep for two boards, steps or attempts: one of them was never measured. */
static bool check_shared_files(const struct archive *archive, struct error *e)
{
    const struct archive_file **files = memory_make(archive->n_files, sizeof *files, e);
    bool ok = true;

    if (!files) return false;
    for (size_t i = 0; i < archive->n_files; i++)
        files[i] = &archive->files[i];
    qsort(files, archive->n_files, sizeof *files, by_path);
    for (size_t i = 1; ok && i < archive->n_files; i++) {
        const struct archive_file *a = files[i - 1], *b = files[i];

        if (strcmp(a->path, b->path) == 0)
            ok = error_set(e, ERROR_INPUT,
                           "%s: is claimed by serial %s, attempt %lu, bias %s and by serial %s, "
                           "attempt %lu, bias %s: one of them was not measured",
                           a->path, a->serial, a->attempt, a->bias_text, b->serial, b->attempt,
                           b->bias_text);
    }
    memory_free(files);
    return ok;
}

static bool read_index(struct archive *out, const struct archive_request *request, struct error *e)
{
    char *folder = index_folder(request, e);
    bool ok = folder && archive_read_index(out, request->index, folder, &request->biases, e);

    memory_free(folder);
    return ok;
}

bool archive_open(struct archive *out, const struct archive_request *request, struct error *e)
{
    struct archive made = {.with_origin = request->with_origin};
    bool ok = !request->layout || archive_layout_check(request->layout, &request->biases, e);

    if (ok && request->index) ok = read_index(&made, request, e);
    for (size_t i = 0; ok && !request->index && i < request->n_paths; i++)
        ok = list_path(&made, request, request->paths[i], e);
    if (ok && made.n_files == 0)
        ok = made.n_left_out > 0
                 ? error_set(e, ERROR_INPUT,
                             "%s: does not fit the layout \"%s\", nor does any "
                             "other file",
                             made.left_out, request->layout)
                 : error_set(e, ERROR_INPUT, "%s: no sweep file is there (.s1p, .s2p, .ts or .csv)",
                             request->index ? request->index : request->paths[0]);
    if (ok) {
        qsort(made.files, made.n_files, sizeof *made.files, by_unit);
        ok = check_doubles(&made, &request->biases, e) && check_circumstances(&made, e) &&
             check_shared_files(&made, e);
    }
    if (!ok) {
        archive_clear(&made);
        return false;
    }
    *out = made;
    return true;
}

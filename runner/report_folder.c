#include "runner/report_folder.h"

#include <dirent.h>
#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "drivers/base/file.h"
#include "reports/html.h"

/* A page of ours says so within its first bytes. */
#define HEAD_BYTES 1024

static bool join(struct text *path, const struct text *folder, const char *name, struct error *e)
{
    text_reset(path);
    text_addf(path, "%s/%s", text_words(folder), name);
    return text_ok(path, "a file name", e);
}

static bool is_our_page(const char *path)
{
    char head[HEAD_BYTES + 1];
    FILE *file = fopen(path, "rb");
    size_t length = 0;

    if (file) {
        length = fread(head, 1, HEAD_BYTES, file);
        (void)fclose(file);
    }
    head[length] = '\0';
    return strstr(head, "name=\"generator\" content=\"" HTML_GENERATOR "\"") != NULL;
}

/* What is done with each page: its path, and its place in units/. */
typedef bool page_function(const char *path, const char *place, struct error *e);

static bool ends_in(const char *name, const char *ending)
{
    const size_t length = strlen(name), tail = strlen(ending);

    return length > tail && strcmp(name + length - tail, ending) == 0;
}

/* Calls `take` for every page in `folder`, and for halves that a killed program left. A folder that
 * is not there holds none. */
static bool each_page(struct report_folder *r, const struct text *folder, page_function *take,
                      struct error *e)
{
    DIR *directory = opendir(text_words(folder));
    struct text path = {0}, place = {0};
    const struct dirent *entry;
    bool ok = true;

    if (!directory) return true;
    while (ok && (entry = readdir(directory)) != NULL) {
        if (!ends_in(entry->d_name, ".html") && !ends_in(entry->d_name, ".part")) continue;
        ok = join(&path, folder, entry->d_name, e) && join(&place, &r->units, entry->d_name, e) &&
             take(path.data, place.data, e);
    }
    (void)closedir(directory);
    text_clear(&path);
    text_clear(&place);
    return ok;
}

static bool remove_file(const char *path, struct error *e)
{
    if (unlink(path) == 0 || errno == ENOENT) return true;
    return error_set(e, ERROR_STORE, "%s: a page of an earlier report cannot be removed: %s", path,
                     strerror(errno));
}

static bool remove_our_page(const char *path, const char *place, struct error *e)
{
    (void)place;
    return !is_our_page(path) || remove_file(path, e);
}

/* In units.part everything is ours. */
static bool remove_written(const char *path, const char *place, struct error *e)
{
    (void)place;
    return remove_file(path, e);
}

static bool move_page(const char *path, const char *place, struct error *e)
{
    if (rename(path, place) == 0) return true;
    return error_set(e, ERROR_STORE, "%s: cannot be written: %s", place, strerror(errno));
}

bool report_folder_open(struct report_folder *out, const char *folder, bool with_units,
                        struct error *e)
{
    struct report_folder made = {0};
    struct text top = {0};
    bool ok;

    text_add(&top, folder);
    ok = text_ok(&top, "a folder's name", e) && file_make_folder(folder, e) &&
         join(&made.units, &top, "units", e) && join(&made.writing, &top, "units.part", e);
    /* The place may be there, left by a program that was killed. */
    ok = ok && each_page(&made, &made.writing, remove_written, e);
    if (ok && with_units)
        ok = file_make_folder(made.writing.data, e) && file_make_folder(made.units.data, e);
    text_clear(&top);
    if (ok)
        *out = made;
    else
        report_folder_close(&made);
    return ok;
}

bool report_folder_commit(struct report_folder *r, struct error *e)
{
    return each_page(r, &r->units, remove_our_page, e) && each_page(r, &r->writing, move_page, e);
}

void report_folder_close(struct report_folder *r)
{
    struct error ignored = {0};

    if (r->writing.length > 0) {
        (void)each_page(r, &r->writing, remove_written, &ignored);
        (void)rmdir(r->writing.data);
    }
    text_clear(&r->units);
    text_clear(&r->writing);
}

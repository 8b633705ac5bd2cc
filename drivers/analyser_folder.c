/* An analyser whose own program saves sweeps into a folder. Only a file that was written after it
 * was asked for is taken: an older one of the same name is another board's or another attempt's. */
#include <errno.h>
#include <math.h>
#include <poll.h>
#include <string.h>
#include <sys/inotify.h>
#include <unistd.h>

#include "drivers/analyser.h"
#include "drivers/archive_name.h"
#include "drivers/base/deadline.h"
#include "drivers/base/number.h"
#include "drivers/base/stop.h"
#include "drivers/base/value.h"
#include "drivers/sweep_file.h"

/* A file is whole when nothing was written to it for so long after it was closed (ours): programs
 * write a file in several goes. */
#define QUIET_S 0.3
#define EVENTS_BYTES 8192
/* How far from its place the first and the last point may be, in points: files round (ours). */
#define NEAR 0.1

static bool open_folder(struct analyser *a, struct error *e)
{
    text_add(&a->folder, a->file->analyser.port + strlen("folder:"));
    if (!text_ok(&a->folder, "a folder's name", e)) return false;
    a->watch = inotify_init1(IN_NONBLOCK | IN_CLOEXEC);
    if (a->watch < 0 ||
        inotify_add_watch(a->watch, a->folder.data,
                          IN_CLOSE_WRITE | IN_MODIFY | IN_MOVED_TO | IN_ONLYDIR) < 0)
        return error_set(e, ERROR_BENCH,
                         "%s: cannot be watched (%s): make the folder into which the instrument's "
                         "program saves",
                         a->folder.data, strerror(errno));
    return true;
}

static bool identify_folder(struct analyser *a, struct error *e)
{
    text_reset(&a->identity);
    text_addf(&a->identity, "sweeps saved into %s", text_words(&a->folder));
    return text_ok(&a->identity, "an identity", e);
}

/* Nothing can be set or switched from here: the operator's instrument is the operator's. */
static bool nothing_to_do(struct analyser *a, struct error *e)
{
    (void)a, (void)e;
    return true;
}

/* Whether the name is that of the sweep that is wanted; without a layout any sweep file is. */
static bool is_wanted(const struct analyser *a, const char *path, const char *name)
{
    struct archive_name parts;
    size_t step = 0;
    double bias_v;

    if (name[0] == '.' || !sweep_file_name(name)) return false;
    if (!a->file->layout) return true;
    return archive_name_by_layout(path, a->file->layout, &a->biases, &parts) &&
           parts.serial.length == strlen(a->serial) &&
           memcmp(parts.serial.at, a->serial, parts.serial.length) == 0 &&
           archive_bias_find(&a->biases, parts.bias, &step, &bias_v) && step == a->step;
}

/* Takes what happened in the folder; the last wanted name goes to `path`, or nothing when that file
 * is being written again: it will be closed again. Whether any was of a wanted name. */
static bool take_events(struct analyser *a, struct text *path)
{
    union {
        char bytes[EVENTS_BYTES];
        struct inotify_event align;
    } events;
    struct text candidate = {0};
    bool any = false;
    ssize_t n;

    while ((n = read(a->watch, events.bytes, sizeof events.bytes)) > 0)
        for (ssize_t at = 0; at < n;) {
            const void *here = events.bytes + at;
            const struct inotify_event *event = here;

            at += (ssize_t)(sizeof *event + event->len);
            if (event->len == 0) continue;
            text_reset(&candidate);
            text_addf(&candidate, "%s/%s", text_words(&a->folder), event->name);
            if (!is_wanted(a, text_words(&candidate), event->name)) continue;
            any = true;
            if (event->mask & IN_MODIFY) {
                if (strcmp(text_words(&candidate), text_words(path)) == 0) text_reset(path);
                continue;
            }
            text_reset(path);
            text_add(path, text_words(&candidate));
        }
    text_clear(&candidate);
    return any;
}

static bool fail_late(const struct analyser *a, const struct error *last, struct error *e)
{
    char words[NUMBER_FIXED_TEXT];

    (void)number_format_fixed(a->file->bias.longest_s, 0, words);
    return error_set(e, ERROR_BENCH,
                     "%s: no whole sweep of %s at bias \"%s\" was saved within %s s%s%.600s",
                     text_words(&a->folder), a->serial, a->biases.names[a->step].id, words,
                     last->text[0] ? "; the last file: " : "", last->text);
}

/* Whether it is the sweep that the bench file describes, and not the file of the step before. */
static bool check_sweep(struct analyser *a, const char *path, const struct sweep *sweep,
                        struct error *e)
{
    const struct bench_sweep *wanted = &a->file->sweep;
    const size_t n = sweep->n_points;
    const double near_hz = NEAR * (wanted->stop_hz - wanted->start_hz) / (double)wanted->points;
    char from[VALUE_TEXT], to[VALUE_TEXT];

    if (n != wanted->points || !(fabs(sweep->frequency_hz[0] - wanted->start_hz) <= near_hz) ||
        !(fabs(sweep->frequency_hz[n - 1] - wanted->stop_hz) <= near_hz))
        return error_set(e, ERROR_BENCH,
                         "%s: is no sweep of %lu points from %s to %s, as the bench file has it",
                         path, wanted->points, value_words(wanted->start_hz, UNIT_HZ, from),
                         value_words(wanted->stop_hz, UNIT_HZ, to));
    if (analyser_has_old_trace(a, sweep))
        return error_set(e, ERROR_BENCH, "%s: holds the sweep before once more", path);
    return sweep_copy(&a->last, sweep, e);
}

static bool take_file(struct analyser *a, const char *path, struct sweep *out, struct error *e)
{
    struct text bytes = {0};
    const bool ok = sweep_file_read(path, &bytes, out, e) && check_sweep(a, path, out, e);

    text_clear(&bytes);
    return ok;
}

/* Waits for what comes next, or until the file that came was left alone long enough. */
static bool wait_for_events(const struct analyser *a, struct deadline until)
{
    struct pollfd polled[2] = {{a->watch, POLLIN, 0}, {stop_descriptor(), POLLIN, 0}};

    return poll(polled, 2, deadline_left_ms(until)) > 0 && (polled[0].revents & POLLIN);
}

static bool measure_folder(struct analyser *a, struct sweep *out, struct error *e)
{
    const struct deadline deadline = deadline_in(a->file->bias.longest_s);
    struct deadline quiet = deadline;
    struct text path = {0};
    struct error last = {0};
    bool done = false, ok = true;

    (void)take_events(a, &path);
    text_reset(&path); /* before it was asked for */
    while (ok && !done) {
        if (wait_for_events(a, quiet) && take_events(a, &path))
            quiet = path.length > 0 ? deadline_first(deadline, deadline_in(QUIET_S)) : deadline;
        if (stop_wanted()) {
            ok = stop_error(e);
        } else if (path.length > 0 && deadline_passed(quiet)) {
            last = (struct error){0};
            done = take_file(a, path.data, out, &last);
            text_reset(&path);
            quiet = deadline;
            if (last.kind == ERROR_MEMORY) ok = error_set(e, last.kind, "%s", last.text);
        } else if (deadline_passed(deadline)) {
            ok = fail_late(a, &last, e);
        }
    }
    if (!done) sweep_reset(out);
    text_clear(&path);
    return done;
}

static void close_folder(struct analyser *a)
{
    if (a->watch > 0) (void)close(a->watch);
    a->watch = 0;
    text_clear(&a->folder);
}

const struct analyser_kind analyser_folder = {
    .name = "folder",
    .open = open_folder,
    .identify = identify_folder,
    .arrange = nothing_to_do,
    .measure = measure_folder,
    .quiet = nothing_to_do,
    .close = close_folder,
};

#include "runner/screen.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include "drivers/base/stop.h"
#include "runner/screen_parts.h"

/* What a plain serial console has that tells no size. */
#define COLUMNS 80
#define ROWS 24
/* No wall of screens is larger; a size that is told wrongly does no harm. */
#define MOST_COLUMNS 500
#define MOST_ROWS 200
/* The alternate screen is not in ECMA-48: a terminal without one ignores the words, and the screen
 * is wiped instead. */
#define TAKE_SCREEN "\033[?1049h\033[0m\033[2J"
#define GIVE_SCREEN "\033[0m\033[2J\033[1;1H\033[?1049l"

static bool can_draw(void)
{
    const char *kind = getenv("TERM");

    return isatty(STDIN_FILENO) == 1 && isatty(STDOUT_FILENO) == 1 &&
           !(kind && strcmp(kind, "dumb") == 0);
}

/* The terminal opened once more, so that writing never waits: O_NONBLOCK on standard output itself
 * would be shared with the shell. Standard output where that is not allowed. */
static int open_output(void)
{
    char name[256];
    int fd = -1;

    if (ttyname_r(STDOUT_FILENO, name, sizeof name) == 0)
        fd = open(name, O_WRONLY | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    return fd >= 0 ? fd : STDOUT_FILENO;
}

static bool change_terminal(struct screen *screen, struct error *e)
{
    struct termios raw;

    if (tcgetattr(STDIN_FILENO, &screen->before) != 0)
        return error_set(e, ERROR_USAGE,
                         "the terminal tells no settings: %s: use another one, or TERM=dumb",
                         strerror(errno));
    raw = screen->before;
    raw.c_lflag &= ~(tcflag_t)(ECHO | ECHONL | ICANON | IEXTEN);
    raw.c_lflag |= ISIG;
    raw.c_iflag &= ~(tcflag_t)(ICRNL | INLCR | IGNCR | ISTRIP | IXON | IXOFF);
    raw.c_cc[VMIN] = 1;
    raw.c_cc[VTIME] = 0;
    raw.c_cc[VSUSP] = _POSIX_VDISABLE;
    raw.c_cc[VQUIT] = _POSIX_VDISABLE;
    if (tcsetattr(STDIN_FILENO, TCSANOW, &raw) != 0)
        return error_set(e, ERROR_USAGE,
                         "the terminal takes no settings: %s: use another one, or TERM=dumb",
                         strerror(errno));
    screen->changed_terminal = true;
    return true;
}

bool screen_open(struct screen *out, bool colour, struct error *e)
{
    out->colour = colour;
    out->output = STDOUT_FILENO;
    out->is_terminal = can_draw();
    if (!out->is_terminal) return true;
    if (!change_terminal(out, e)) return false;
    out->output = open_output();
    return screen_write(out, TAKE_SCREEN, strlen(TAKE_SCREEN), e);
}

void screen_close(struct screen *screen)
{
    struct error ignored = {0};

    if (screen->changed_terminal) {
        /* A terminal that is gone needs nothing given back. */
        if (!screen_write(screen, GIVE_SCREEN, strlen(GIVE_SCREEN), &ignored))
            ignored.kind = ERROR_NONE;
        /* A double scan is no command for the shell. */
        (void)tcflush(STDIN_FILENO, TCIFLUSH);
        (void)tcsetattr(STDIN_FILENO, TCSANOW, &screen->before);
    }
    if (screen->output > STDERR_FILENO) (void)close(screen->output);
    text_clear(&screen->line);
    text_clear(&screen->drawn);
    text_clear(&screen->said);
    text_clear(&screen->input);
    *screen = (struct screen){0};
}

static bool write_error(struct error *e)
{
    if (errno == EIO || errno == EPIPE || errno == ENXIO)
        return error_set(e, ERROR_STOPPED,
                         "the operator's terminal is gone: what is recorded stays; start again to "
                         "go on with the batch");
    return error_set(e, ERROR_STORE, "standard output: %s: what is said to the operator was lost",
                     strerror(errno));
}

bool screen_write(struct screen *screen, const char *bytes, size_t length, struct error *e)
{
    struct deadline deadline = deadline_in(1);

    (void)fflush(stdout);
    while (length > 0) {
        ssize_t n = write(screen->output, bytes, length);

        if (n >= 0) {
            bytes += n;
            length -= (size_t)n;
        } else if (errno == EINTR) {
            /* A reader that takes nothing may not hold who wants to stop. */
            if (!screen->is_terminal && stop_wanted()) return true;
        } else if (errno == EAGAIN) {
            struct pollfd polled = {.fd = screen->output, .events = POLLOUT};

            if (screen->is_terminal && deadline_passed(deadline)) {
                text_reset(&screen->drawn);
                return true;
            }
            (void)poll(&polled, 1, screen->is_terminal ? deadline_left_ms(deadline) : 1000);
        } else {
            return write_error(e);
        }
    }
    return true;
}

static void ask_size(const struct screen *screen, unsigned *columns, unsigned *rows)
{
    struct winsize size = {0};

    if (ioctl(screen->output, TIOCGWINSZ, &size) != 0) size = (struct winsize){0};
    *columns = size.ws_col ? size.ws_col : COLUMNS;
    *rows = size.ws_row ? size.ws_row : ROWS;
    if (*columns > MOST_COLUMNS) *columns = MOST_COLUMNS;
    if (*rows > MOST_ROWS) *rows = MOST_ROWS;
}

/* Characters of a row that are seen: all but "ESC [ numbers letter". */
static unsigned seen(const char *row, size_t length)
{
    unsigned n = 0;

    for (size_t i = 0; i < length; i++) {
        if (row[i] != '\033') {
            n++;
            continue;
        }
        while (i < length && row[i] != 'm')
            i++;
    }
    return n;
}

/* What turns the rows of `before` into those of `after`, and puts the cursor behind what is typed,
 * on the last row but one. */
static void add_changes(struct text *out, const char *before, const char *after, unsigned columns,
                        unsigned rows)
{
    unsigned row = 0, cursor = 0;

    for (const char *b = before, *a = after; *a; row++) {
        size_t b_length = strcspn(b, "\n"), a_length = strcspn(a, "\n");

        if (row + 2 == rows) cursor = seen(a, a_length);
        if (b[b_length] == '\0' || a_length != b_length || memcmp(a, b, a_length) != 0) {
            text_addf(out, "\033[%u;1H", row + 1);
            text_add_bytes(out, a, a_length);
            text_add(out, "\033[K");
        }
        b += b_length + (b[b_length] ? 1 : 0);
        a += a_length + (a[a_length] ? 1 : 0);
    }
    if (cursor >= columns) cursor = columns - 1;
    if (out->length > 0) text_addf(out, "\033[%u;%uH", rows > 1 ? rows - 1 : 1, cursor + 1);
}

static bool show_drawn(struct screen *screen, const struct screen_view *view, const char *line,
                       struct error *e)
{
    struct text next = {0}, bytes = {0};
    unsigned columns, rows;
    bool done;

    ask_size(screen, &columns, &rows);
    if (columns != screen->columns || rows != screen->rows) text_reset(&screen->drawn);
    if (screen->drawn.length == 0) text_add(&bytes, "\033[0m\033[2J");
    screen_draw(view, line, columns, rows, screen->colour, &next);
    add_changes(&bytes, text_words(&screen->drawn), text_words(&next), columns, rows);
    done = text_ok(&next, "the screen", e) && text_ok(&bytes, "the screen", e);
    if (!done) {
        text_clear(&next);
    } else {
        text_clear(&screen->drawn);
        screen->drawn = next;
        screen->columns = columns;
        screen->rows = rows;
        done = screen_write(screen, text_words(&bytes), bytes.length, e);
    }
    text_clear(&bytes);
    return done;
}

bool screen_show_typed(struct screen *screen, const struct screen_view *view, const char *line,
                       struct error *e)
{
    struct screen_view told = *view;
    struct text out = {0};
    bool done;

    if (screen->is_terminal) return show_drawn(screen, view, line, e);
    /* Progress is for those who look on: a file holds results. */
    if (!isatty(screen->output)) told.n_steps = 0;
    screen_lines(&told, &screen->said, &out);
    done = text_ok(&screen->said, "the words to the operator", e) &&
           text_ok(&out, "the words to the operator", e) &&
           screen_write(screen, text_words(&out), out.length, e);
    text_clear(&out);
    return done;
}

bool screen_show(struct screen *screen, const struct screen_view *view, struct error *e)
{
    return screen_show_typed(screen, view, "", e);
}

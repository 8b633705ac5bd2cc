#include <errno.h>
#include <poll.h>
#include <string.h>
#include <unistd.h>

#include "drivers/base/plain.h"
#include "drivers/base/stop.h"
#include "runner/screen_parts.h"

#define BACKSPACE '\b'
#define DELETE 0x7F
#define CTRL_D 4
#define CTRL_L 12
#define CTRL_U 21
#define ESCAPE 0x1B
/* A scanner pauses less than this between its characters (common practice: 20 ms at most). */
#define QUIET_MS 50
/* ... and this is as long as anybody is waited for. */
#define FORGET_S 1.0

/* Where in the bytes of a key we are. */
enum { KEY_NONE = 0, KEY_ESCAPE, KEY_CONTROL, KEY_LETTER };

static bool stopped(struct error *e)
{
    return error_set(e, ERROR_STOPPED,
                     "stopped by the operator: what is recorded stays; start again to go on with "
                     "the batch");
}

/* "ESC [ parameters letter" and "ESC O letter" are keys of the terminal (ECMA-48 5.4, from memory;
 * the latter common practice). True when the byte belongs to one. */
static bool is_key(struct screen *screen, unsigned char byte)
{
    const int before = screen->escape;

    screen->escape = KEY_NONE;
    if (byte == ESCAPE) {
        screen->escape = KEY_ESCAPE;
        return true;
    }
    /* A line's end is one, whatever came before. */
    if (byte < 0x20 || before == KEY_NONE) return false;
    if (before == KEY_ESCAPE) {
        if (byte == '[') screen->escape = KEY_CONTROL;
        if (byte == 'O') screen->escape = KEY_LETTER;
        return screen->escape != KEY_NONE;
    }
    if (before == KEY_CONTROL && byte < 0x40) screen->escape = KEY_CONTROL;
    return true;
}

static void take_back(struct text *line)
{
    while (line->length > 0) {
        unsigned char byte = (unsigned char)line->data[--line->length];

        line->data[line->length] = '\0';
        if ((byte & 0xC0) != 0x80) break;
    }
}

/* True when the byte ends the line. */
static bool use_byte(struct screen *screen, char c)
{
    const unsigned char byte = (unsigned char)c;
    const bool after_cr = screen->after_cr;

    screen->after_cr = byte == '\r';
    if (is_key(screen, byte)) return false;
    if (byte == '\r' || byte == '\n') return byte == '\r' || !after_cr;
    if (byte == BACKSPACE || byte == DELETE)
        take_back(&screen->line);
    else if (byte == CTRL_U)
        text_reset(&screen->line);
    else if (byte == CTRL_L)
        text_reset(&screen->drawn);
    else if (byte >= 0x20 && screen->line.length < CEILING_LINE)
        text_add_bytes(&screen->line, &c, 1);
    return false;
}

/* Uses up what was read until a line ends; true when one did. */
static bool use_input(struct screen *screen, bool *ended)
{
    size_t used = 0;
    bool line = false;

    while (used < screen->input.length && !line && !*ended) {
        char c = screen->input.data[used++];

        if (screen->is_terminal && c == CTRL_D && screen->line.length == 0)
            *ended = true;
        else
            line = use_byte(screen, c);
    }
    screen->input.length -= used;
    if (screen->input.length)
        memmove(screen->input.data, screen->input.data + used, screen->input.length);
    return line;
}

/* The line without the blanks around it. */
static bool give_line(struct screen *screen, struct text *out, struct error *e)
{
    struct text *line = &screen->line;
    const char *words = text_words(line) + strspn(text_words(line), " ");
    bool done;

    while (line->length > 0 && line->data[line->length - 1] == ' ')
        line->data[--line->length] = '\0';
    text_reset(out);
    text_add_plain(out, words, "");
    done = text_ok(line, "the line", e) && text_ok(out, "the line", e);
    text_reset(line);
    return done;
}

/* Waits for input or a wish to stop, a second at most: the window may have another size by then. */
static bool wait_for_input(struct screen *screen, bool *ended, struct error *e)
{
    struct pollfd polled[2] = {{.fd = STDIN_FILENO, .events = POLLIN},
                               {.fd = stop_descriptor(), .events = POLLIN}};
    char bytes[256];
    ssize_t n;

    if (poll(polled, 2, 1000) < 0) {
        if (errno != EINTR)
            return error_set(e, ERROR_STOPPED,
                             "standard input: %s: start again to go on with the batch",
                             strerror(errno));
        return true;
    }
    if (stop_wanted() || !polled[0].revents) return true;
    n = read(STDIN_FILENO, bytes, sizeof bytes);
    if (n > 0)
        text_add_bytes(&screen->input, bytes, (size_t)n);
    else if (n == 0 || (errno != EINTR && errno != EAGAIN))
        *ended = true;
    return text_ok(&screen->input, "what is typed", e);
}

bool screen_read(struct screen *screen, const struct screen_view *view, struct text *out,
                 bool *ended, struct error *e)
{
    bool over = false;

    *ended = false;
    for (;;) {
        if (stop_wanted()) return stopped(e);
        if (use_input(screen, &over)) return give_line(screen, out, e);
        if (over) break;
        if (!screen_show_typed(screen, view, text_words(&screen->line), e)) return false;
        if (!wait_for_input(screen, &over, e)) return false;
    }
    /* A file may end without a line end; a terminal that hangs up says nothing more. */
    if (!screen->is_terminal && screen->line.length > 0) return give_line(screen, out, e);
    text_reset(&screen->line);
    text_reset(out);
    *ended = true;
    return true;
}

void screen_forget(struct screen *screen)
{
    struct pollfd polled = {.fd = STDIN_FILENO, .events = POLLIN};
    struct deadline deadline = deadline_in(FORGET_S);
    bool dropped = screen->line.length > 0 || screen->input.length > 0;

    if (isatty(STDIN_FILENO) != 1) return;
    /* The rest of a line that is coming in would be taken for a line of its own. */
    while (!deadline_passed(deadline) && poll(&polled, 1, dropped ? QUIET_MS : 0) > 0 &&
           !(polled.revents & (POLLHUP | POLLERR | POLLNVAL))) {
        (void)tcflush(STDIN_FILENO, TCIFLUSH);
        dropped = true;
    }
    /* What comes next may be the line feed of a scan; a key sends a carriage return here. */
    if (dropped) screen->after_cr = screen->is_terminal;
    text_reset(&screen->line);
    text_reset(&screen->input);
    screen->escape = KEY_NONE;
}

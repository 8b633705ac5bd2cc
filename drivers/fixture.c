#include "drivers/fixture.h"

#include <string.h>

#include "drivers/reply.h"

#define ANSWER_S 5.0
#define LONGEST_ANSWER ((size_t)200)

bool fixture_open(struct fixture *out, const char *port, struct error *e)
{
    const struct link_line line = {0};

    if (!port) return true;
    out->link = link_open(port, &line, deadline_in(ANSWER_S), e);
    return out->link != NULL;
}

void fixture_close(struct fixture *f)
{
    link_close(f->link);
    text_clear(&f->reply);
    *f = (struct fixture){0};
}

/* Only letters and digits go into a command. */
static bool is_plain(const char *serial)
{
    return serial[strspn(serial,
                         "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789")] == '\0';
}

static bool send_words(struct fixture *f, const struct text *words, struct error *e)
{
    return text_ok(words, "a message", e) &&
           link_send(f->link, words->data, words->length, deadline_in(ANSWER_S), e);
}

static bool ask_who(struct fixture *f, const char **who, size_t *length, struct error *e)
{
    struct reply_frame frame = {.terminator = TERMINATOR_ANY};
    static const char question[] = "FIXT:CONN?\n";

    return link_send(f->link, question, sizeof question - 1, deadline_in(ANSWER_S), e) &&
           link_receive(f->link, reply_frame, &frame, LONGEST_ANSWER, &f->reply,
                        deadline_in(ANSWER_S), e) &&
           reply_text(f->reply.data, f->reply.length, who, length, e);
}

static bool refuse(const struct fixture *f, const char *serial, struct error *e)
{
    char shown[REPLY_SHOWN_TEXT];

    return error_set(e, ERROR_BENCH, "%s: the emulated fixture holds no board \"%s\"",
                     f->link->port, reply_shown(serial, strlen(serial), shown));
}

bool fixture_connect(struct fixture *f, const char *serial, struct error *e)
{
    struct text words = {0};
    const char *who;
    size_t length;
    bool ok;

    if (!f->link) return true;
    if (serial && !is_plain(serial)) return refuse(f, serial, e);
    text_add(&words, "FIXT:CONN ");
    if (serial)
        text_addf(&words, "\"%s\"\n", serial);
    else
        text_add(&words, "NONE\n");
    ok = send_words(f, &words, e) && ask_who(f, &who, &length, e);
    text_clear(&words);
    if (!ok) return false;
    text_addf(&words, serial ? "\"%s\"" : "%s", serial ? serial : "NONE");
    ok = text_ok(&words, "a message", e);
    if (ok && (words.length != length || memcmp(words.data, who, length) != 0))
        ok = refuse(f, serial ? serial : "", e);
    text_clear(&words);
    return ok;
}

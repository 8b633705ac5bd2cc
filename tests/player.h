/* Plays a recorded dialogue from the instrument's side and checks every byte that it is sent. It
 * knows nothing of instruments: the file says all, a line each:
 *
 *     # a comment; so is an empty line
 *     instrument: docs/profiles/supply.xml     the head, before everything else
 *     link: sockets                            or pty, tcp
 *     > VOLT?\n                                must come now, and nothing else
 *     < +2.4E+00\n                             is said then
 *     ~ 0.2                                    seconds of silence
 *     !                                        hangs up
 *
 * Escapes: \n \r \\ \xNN. {n} in a line that must come stands for any whole number, and in what is
 * said behind it for that number. The test says which steps are run. */
#ifndef GAINSIEVE_TESTS_PLAYER_H
#define GAINSIEVE_TESTS_PLAYER_H

#include "drivers/instrument.h"
#include "tests/peer.h"
#include "tests/profile_file.h"

#define PLAYER_LINES 128
#define PLAYER_BYTES 512
/* So long a message may be waited for. */
#define PLAYER_WAIT_MS 5000

struct player_line {
    char kind; /* one of > < ~ ! */
    char bytes[PLAYER_BYTES];
    size_t n;
    double s;
    unsigned number; /* of the file */
};

struct player {
    const char *path;
    char instrument[128];
    enum peer_wire wire;
    struct player_line lines[PLAYER_LINES];
    size_t n_lines;
    int descriptor;
    pthread_t thread;
    char number[24];  /* what {n} stood for */
    char wrong[4096]; /* "" while all is as it must be */
    struct profile profile;
    struct instrument at;
};

static inline size_t player_unescape(const char *from, char *out)
{
    size_t n = 0;

    while (*from && n < PLAYER_BYTES) {
        char hex[3] = {0};

        if (*from != '\\') {
            out[n++] = *from++;
            continue;
        }
        switch (from[1]) {
        case 'n': out[n++] = '\n'; break;
        case 'r': out[n++] = '\r'; break;
        case '\\': out[n++] = '\\'; break;
        default:
            assert_int_equal(from[1], 'x');
            hex[0] = from[2];
            hex[1] = hex[0] ? from[3] : '\0';
            assert_int_equal(strspn(hex, "0123456789ABCDEFabcdef"), 2);
            out[n++] = (char)(unsigned char)strtoul(hex, NULL, 16);
            from += 2;
        }
        from += 2;
    }
    assert_int_equal(*from, '\0');
    return n;
}

static inline void player_head(struct player *p, const char *line)
{
    char wire[16];

    if (sscanf(line, "instrument: %127s", p->instrument) == 1) return;
    assert_int_equal(sscanf(line, "link: %15s", wire), 1);
    p->wire = strcmp(wire, "pty") == 0   ? PEER_PTY
              : strcmp(wire, "tcp") == 0 ? PEER_TCP
                                         : PEER_SOCKETS;
    if (p->wire == PEER_SOCKETS) assert_string_equal(wire, "sockets");
}

static inline void player_read(struct player *p, const char *path)
{
    FILE *file = fopen(path, "r");
    char line[2048];

    p->path = path;
    if (!file) print_error("%s cannot be opened\n", path);
    assert_non_null(file);
    for (unsigned number = 1; fgets(line, sizeof line, file); number++) {
        struct player_line *at = &p->lines[p->n_lines];

        line[strcspn(line, "\n")] = '\0';
        if (line[0] == '#' || line[0] == '\0') continue;
        if (!strchr("<>~!", line[0])) {
            player_head(p, line);
            continue;
        }
        assert_true(p->n_lines < PLAYER_LINES);
        *at = (struct player_line){.kind = line[0], .number = number};
        if (line[0] == '~')
            at->s = strtod(line + 1, NULL);
        else if (line[0] != '!')
            at->n = player_unescape(line + 2, at->bytes);
        p->n_lines++;
    }
    (void)fclose(file);
    assert_true(p->instrument[0] != '\0' && p->n_lines > 0);
}

static inline bool player_fails(struct player *p, const struct player_line *line, const char *words,
                                const char *got, size_t n)
{
    struct text shown = {0}, wanted = {0};

    reply_escape(&shown, got, n, n);
    reply_escape(&wanted, line->bytes, line->n, line->n);
    (void)snprintf(p->wrong, sizeof p->wrong, "%s:%u: %s: got \"%s\", wanted \"%s\"", p->path,
                   line->number, words, text_words(&shown), text_words(&wanted));
    text_clear(&shown);
    text_clear(&wanted);
    return false;
}

/* 1 a byte, 0 none in time, -1 the other side is gone. */
static inline int player_byte(const struct player *p, char *out, int wait_ms)
{
    struct pollfd polled = {.fd = p->descriptor, .events = POLLIN};

    if (poll(&polled, 1, wait_ms) <= 0) return 0;
    return read(p->descriptor, out, 1) == 1 ? 1 : -1;
}

/* One message must come exactly. A byte at a time, so that what follows is left. */
static inline bool player_wants(struct player *p, const struct player_line *line)
{
    const char *hole = strstr(line->bytes, "{n}");
    char got[PLAYER_BYTES];
    size_t n = 0, at = 0, digits = 0;

    while (at < line->n) {
        const int seen = player_byte(p, &got[n], PLAYER_WAIT_MS);

        if (seen <= 0) return player_fails(p, line, "nothing came", got, n);
        if (hole == line->bytes + at && got[n] >= '0' && got[n] <= '9' && digits < 20) {
            p->number[digits++] = got[n++];
            p->number[digits] = '\0';
            continue;
        }
        if (hole == line->bytes + at && digits > 0) at += 3;
        if (got[n++] != line->bytes[at++])
            return player_fails(p, line, "another message came", got, n);
    }
    return true;
}

static inline void player_says(const struct player *p, const struct player_line *line)
{
    const char *hole = strstr(line->bytes, "{n}");

    if (!hole) {
        peer_say_bytes(p->descriptor, line->bytes, line->n);
        return;
    }
    peer_say_bytes(p->descriptor, line->bytes, (size_t)(hole - line->bytes));
    peer_say(p->descriptor, p->number);
    peer_say_bytes(p->descriptor, hole + 3, line->n - 3 - (size_t)(hole - line->bytes));
}

static inline void *player_run(void *context)
{
    struct player *p = context;
    const struct player_line *last = &p->lines[p->n_lines - 1];
    char byte;

    for (size_t k = 0; k < p->n_lines; k++) {
        const struct player_line *line = &p->lines[k];

        switch (line->kind) {
        case '>':
            if (!player_wants(p, line)) goto end;
            break;
        case '<': player_says(p, line); break;
        case '~': peer_sleep(line->s); break;
        default: goto end;
        }
    }
    /* Nothing more may come before the program closes. */
    if (player_byte(p, &byte, PLAYER_WAIT_MS) > 0)
        (void)player_fails(p, last, "more came behind the end", &byte, 1);
end:
    (void)close(p->descriptor);
    return NULL;
}

/* Plays the file against an instrument whose profile is read from `profile`, or from the file that
 * the head names when that is NULL. */
static inline void player_start(struct player *p, const char *path, const char *profile)
{
    struct error e = {0};
    struct link *link;

    *p = (struct player){0};
    player_read(p, path);
    if (profile)
        profile_take(&p->profile, profile);
    else
        assert_done(profile_read(&p->profile, p->instrument, &e), &e);
    (void)signal(SIGPIPE, SIG_IGN);
    link = peer_link(p->wire, &p->descriptor);
    p->at.profile = &p->profile;
    p->at.link = link;
    p->at.silence_s = 0.05;
    assert_int_equal(pthread_create(&p->thread, NULL, player_run, p), 0);
}

/* What a step said; when it failed, what the player saw is mostly the reason. */
static inline void player_check(struct player *p, bool ok, const struct error *e)
{
    if (!ok) {
        instrument_close(&p->at);
        (void)pthread_join(p->thread, NULL);
        print_error("%s\n", p->wrong);
    }
    assert_done(ok, e);
}

/* Closes, and fails unless the whole dialogue was as it must be. */
static inline void player_end(struct player *p)
{
    instrument_close(&p->at);
    assert_int_equal(pthread_join(p->thread, NULL), 0);
    profile_clear(&p->profile);
    if (p->wrong[0]) print_error("%s\n", p->wrong);
    assert_int_equal(p->wrong[0], '\0');
}

#endif

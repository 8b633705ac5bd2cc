#include "drivers/emulator_output.h"

#include <math.h>
#include <string.h>

#include "drivers/base/memory.h"

/* What a wrong line setting or a plug being pushed in looks like. */
#define NOISE "\x80\xfe~?x"

void emulator_output_clear(struct emulator_instrument *i)
{
    for (size_t k = 0; k < i->n_chunks; k++)
        memory_free(i->chunks[k].bytes);
    i->n_chunks = 0;
}

bool emulator_output_add(struct emulator_instrument *i, const char *bytes, size_t n, double due_s,
                         double gap_s, bool gone, struct error *e)
{
    struct emulator_chunk *bigger;
    char *copy;

    if (n == 0 && !gone) return true;
    if (i->n_chunks == CEILING_EMULATOR_ANSWERS)
        return error_set(e, ERROR_BENCH,
                         "emulated %s: %zu answers wait that nobody reads: read each before asking "
                         "again",
                         i->kind->name, i->n_chunks);
    bigger = memory_grow(i->chunks, &i->capacity, i->n_chunks + 1, sizeof *i->chunks,
                         CEILING_EMULATOR_ANSWERS, "answers on their way", e);
    if (!bigger) return false;
    i->chunks = bigger;
    copy = memory_copy_bytes(bytes, n, e);
    if (!copy) return false;
    i->chunks[i->n_chunks++] = (struct emulator_chunk){copy, n, 0, due_s, gap_s, gone};
    return true;
}

/* Where faults that look at the answer's beginning have to do with its text. */
static void change_text(const bool *now, struct text *answer)
{
    const char first = answer->length > 0 ? answer->data[0] : '\0';

    if (now[EMULATOR_UNIT_SUFFIX] && strchr("+-0123456789", first)) text_add(answer, " V");
    if (now[EMULATOR_BLOCK_FOR_TEXT] && first != '#') {
        struct text block = {0};

        text_addf(&block, "#%c%zu", answer->length < 10 ? '1' : '2', answer->length % 100);
        text_add_bytes(&block, text_words(answer), answer->length);
        answer->failed = answer->failed || block.failed;
        text_reset(answer);
        text_add_bytes(answer, text_words(&block), block.length);
        text_clear(&block);
    }
}

static const char *terminator(const bool *now)
{
    if (now[EMULATOR_NO_END]) return "";
    if (now[EMULATOR_CRLF]) return "\r\n";
    if (now[EMULATOR_CR]) return "\r";
    if (now[EMULATOR_LF_CR]) return "\n\r";
    return now[EMULATOR_DOUBLE_LF] ? "\n\n" : "\n";
}

/* The whole answer, terminator and all, as its bytes leave the instrument. */
static void make_bytes(const bool *now, const struct text *answer, struct text *out)
{
    if (now[EMULATOR_NOISE_BEFORE]) text_add(out, NOISE);
    for (unsigned k = 0; k < (now[EMULATOR_TWICE] ? 2U : 1U); k++) {
        for (size_t b = 0; b < answer->length && now[EMULATOR_NUL]; b++) {
            text_add_bytes(out, &answer->data[b], 1);
            text_add_bytes(out, "", 1);
        }
        if (!now[EMULATOR_NUL]) text_add_bytes(out, text_words(answer), answer->length);
        text_add(out, terminator(now));
    }
    if (now[EMULATOR_PROMPT]) text_add(out, "> ");
    if (now[EMULATOR_NOISE_AFTER]) text_add(out, NOISE);
    for (size_t b = 0; b < out->length && now[EMULATOR_EIGHTH_BIT]; b++)
        out->data[b] = (char)(unsigned char)((unsigned char)out->data[b] | 0x80U);
}

static bool add_echo(struct emulator_instrument *i, const char *message, struct error *e)
{
    struct text echo = {0};
    bool ok;

    text_addf(&echo, "%s\n", message);
    if (i->faults.now[EMULATOR_ECHO_WRONG] && echo.length > 1)
        echo.data[echo.length / 2 - (echo.length > 2 ? 0 : 1)] ^= 1;
    ok = text_ok(&echo, "an echo", e) &&
         emulator_output_add(i, echo.data, echo.length, i->now_s, 0, false, e);
    text_clear(&echo);
    return ok;
}

bool emulator_output_answer(struct emulator_instrument *i, const char *message, struct text *answer,
                            struct error *e)
{
    const bool *now = i->faults.now;
    const bool cut = now[EMULATOR_CUT] || now[EMULATOR_CUT_GONE];
    struct text bytes = {0};
    double due_s = i->answer_due_s;
    bool ok;

    if ((now[EMULATOR_ECHO] || now[EMULATOR_ECHO_WRONG]) && !add_echo(i, message, e)) return false;
    if (!text_ok(answer, "an answer", e)) return false;
    if (answer->length == 0 || now[EMULATOR_SILENT]) return true;
    if (now[EMULATOR_LATE]) due_s = fmax(due_s, i->now_s) + i->faults.value[EMULATOR_LATE];
    if (now[EMULATOR_GONE_BEFORE]) return emulator_output_add(i, "", 0, due_s, 0, true, e);
    change_text(now, answer);
    make_bytes(now, answer, &bytes);
    ok = text_ok(answer, "an answer", e) && text_ok(&bytes, "an answer", e) &&
         emulator_output_add(i, text_words(&bytes), cut ? bytes.length / 2 : bytes.length, due_s,
                             now[EMULATOR_BYTES] ? i->faults.value[EMULATOR_BYTES] : 0,
                             now[EMULATOR_CUT_GONE] || now[EMULATOR_GONE_AFTER], e);
    text_clear(&bytes);
    return ok;
}

bool emulator_output_opening(struct emulator_instrument *i, struct error *e)
{
    static const struct {
        enum emulator_fault fault;
        const char *bytes;
    } openings[] = {{EMULATOR_BANNER, "\r\nemulated instrument starting\r\nready\r\n"},
                    {EMULATOR_STALE, "+4.2E-03\n"},
                    /* RFC 854: IAC DO SUPPRESS-GO-AHEAD, IAC WILL ECHO (from memory). */
                    {EMULATOR_TELNET, "\xff\xfd\x03\xff\xfb\x01"}};

    /* Armed is enough: before the first message there is no "now". */
    for (unsigned k = 0; k < i->faults.n; k++) {
        const enum emulator_fault fault = i->faults.armed[k].fault;

        for (size_t o = 0; o < sizeof openings / sizeof *openings; o++)
            if (openings[o].fault == fault &&
                !emulator_output_add(i, openings[o].bytes, strlen(openings[o].bytes), i->now_s, 0,
                                     false, e))
                return false;
        if (fault == EMULATOR_REFUSES && !emulator_output_add(i, "", 0, i->now_s, 0, true, e))
            return false;
    }
    return true;
}

/* How many bytes of the chunk may have left by now. */
static size_t due_bytes(const struct emulator_chunk *chunk, double now_s)
{
    double n;

    if (now_s < chunk->due_s) return 0;
    if (chunk->gap_s <= 0) return chunk->length;
    n = floor((now_s - chunk->due_s) / chunk->gap_s) + 1;
    return n < (double)chunk->length ? (size_t)n : chunk->length;
}

double emulator_take(struct emulator_instrument *i, double now_s, struct text *out, bool *gone)
{
    *gone = false;
    while (i->n_chunks > 0 && !*gone) {
        struct emulator_chunk *chunk = &i->chunks[0];
        const size_t n = due_bytes(chunk, now_s);

        if (n > chunk->sent) {
            text_add_bytes(out, chunk->bytes + chunk->sent, n - chunk->sent);
            chunk->sent = n;
        }
        if (now_s < chunk->due_s || n < chunk->length)
            return chunk->due_s + (double)n * chunk->gap_s;
        *gone = chunk->gone;
        memory_free(chunk->bytes);
        i->n_chunks--;
        memmove(i->chunks, i->chunks + 1, i->n_chunks * sizeof *i->chunks);
    }
    return (double)INFINITY;
}

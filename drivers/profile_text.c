#include "drivers/profile_text.h"

#include <math.h>
#include <string.h>

#include "drivers/base/number.h"

/* Fifteen digits before the point are exact in a double; no instrument takes more. */
#define TOO_LARGE 1e15

/* "{name...}" of a text, for messages. */
#define SHOWN(piece) (int)((piece)->length < 60 ? (piece)->length : 60), (piece)->bytes

static bool find_name(struct profile_piece *piece, const char *name, size_t length, struct error *e)
{
    if (length == strlen("parameter") && memcmp(name, "parameter", length) == 0) {
        piece->kind = PIECE_PARAMETER;
        return true;
    }
    if (length == strlen("channel") && memcmp(name, "channel", length) == 0) {
        piece->kind = PIECE_CHANNEL;
        return true;
    }
    piece->kind = PIECE_VALUE;
    for (int v = 0; v < PROFILE_VALUES; v++) {
        const char *known = profile_value_name((enum profile_value)v);

        if (strlen(known) != length || memcmp(name, known, length) != 0) continue;
        piece->value = (enum profile_value)v;
        return true;
    }
    return error_set(e, ERROR_INPUT,
                     "the placeholder \"%.*s\" is unknown: write a name such as {start_hz}, or {{ "
                     "and }} for braces that are sent",
                     SHOWN(piece));
}

/* What stands behind the '/', up to `end`. */
static bool read_divisor(struct profile_piece *piece, const char **at, const char *end,
                         struct error *e)
{
    if (**at >= '0' && **at <= '9' && number_scan(at, end, &piece->divisor) && piece->divisor > 0)
        return true;
    return error_set(e, ERROR_INPUT,
                     "\"%.*s\" does not divide by a number above 0: write for instance "
                     "{start_hz/1e6:.6f}",
                     SHOWN(piece));
}

/* What stands behind the ':': "d", or ".4f". */
static bool read_format(struct profile_piece *piece, const char **at, const char *end,
                        struct error *e)
{
    const char *p = *at;
    int decimals = 0, digits = 0;

    if (p + 1 == end && *p == 'd') {
        piece->style = STYLE_WHOLE;
        *at = end;
        return true;
    }
    if (p < end && *p == '.') {
        for (p++; p < end && *p >= '0' && *p <= '9' && digits < 3; p++, digits++)
            decimals = decimals * 10 + (*p - '0');
        if (digits > 0 && p + 1 == end && *p == 'f' && decimals <= PROFILE_DECIMALS) {
            piece->style = STYLE_FIXED;
            piece->decimals = decimals;
            *at = end;
            return true;
        }
    }
    return error_set(
        e, ERROR_INPUT,
        "\"%.*s\" has a format that is not taken: write {name:d} or {name:.4f}, with 0 "
        "to %d decimals; an exponent is never sent, for a number that is cut off "
        "before it is another",
        SHOWN(piece), PROFILE_DECIMALS);
}

static bool read_placeholder(struct profile_piece *piece, struct error *e)
{
    const char *name = piece->bytes + 1, *end = piece->bytes + piece->length - 1, *at = name;

    while (at < end && *at != ':' && *at != '/')
        at++;
    if (!find_name(piece, name, (size_t)(at - name), e)) return false;
    piece->divisor = 1;
    if (at < end && piece->kind != PIECE_VALUE)
        return error_set(e, ERROR_INPUT, "\"%.*s\" is a text and takes no format: remove it",
                         SHOWN(piece));
    if (at < end && *at == '/') {
        at++;
        if (!read_divisor(piece, &at, end, e)) return false;
    }
    if (at < end && *at == ':') {
        at++;
        if (!read_format(piece, &at, end, e)) return false;
    }
    if (at == end) return true;
    return error_set(e, ERROR_INPUT, "\"%.*s\" is no placeholder: write {name} or {name:.4f}",
                     SHOWN(piece));
}

bool profile_piece_next(const char **at, struct profile_piece *out, struct error *e)
{
    const char *p = *at;

    *out = (struct profile_piece){.bytes = p};
    if (!*p) return true;
    out->kind = PIECE_BYTES;
    if ((*p == '{' || *p == '}') && p[1] == *p) {
        out->length = 1;
        *at = p + 2;
        return true;
    }
    if (*p == '}')
        return error_set(e, ERROR_INPUT, "a } stands without its {: write }} for one that is sent");
    if (*p == '{') {
        const char *close = strchr(p, '}');

        if (!close)
            return error_set(e, ERROR_INPUT,
                             "a { stands without its }: write {{ for one that is sent");
        out->length = (size_t)(close + 1 - p);
        *at = close + 1;
        return read_placeholder(out, e);
    }
    out->length = strcspn(p, "{}");
    *at = p + out->length;
    return true;
}

bool profile_uses_add(struct profile_uses *out, const char *text, struct error *e)
{
    struct profile_piece piece = {.kind = PIECE_BYTES};

    while (piece.kind != PIECE_END) {
        if (!profile_piece_next(&text, &piece, e)) return false;
        if (piece.kind == PIECE_VALUE) out->values |= 1U << piece.value;
        if (piece.kind == PIECE_PARAMETER) out->parameter = true;
        if (piece.kind == PIECE_CHANNEL) out->channel = true;
    }
    return true;
}

/* The fewest decimals that read back the same; all of them where none does. */
static void format_plain(double x, char out[NUMBER_FIXED_TEXT])
{
    double back;

    for (int decimals = 0; decimals <= 17; decimals++) {
        (void)number_format_fixed(x, decimals, out);
        if (number_parse(out, &back) && back == x) return;
    }
}

static bool add_value(const struct profile_piece *piece, const struct profile_values *values,
                      struct text *out, struct error *e)
{
    double x = values->value[piece->value] / piece->divisor;
    char digits[NUMBER_FIXED_TEXT];

    if (!isfinite(x))
        return error_set(
            e, ERROR_BENCH,
            "there is no number for \"%.*s\" of the profile: state it in the bench file",
            SHOWN(piece));
    if (fabs(x) >= TOO_LARGE)
        return error_set(e, ERROR_BENCH, "the number for \"%.*s\" is too large to be sent",
                         SHOWN(piece));
    if (piece->style == STYLE_WHOLE && x != round(x))
        return error_set(e, ERROR_BENCH,
                         "the number for \"%.*s\" is not whole: state a whole one or give the "
                         "profile decimals",
                         SHOWN(piece));
    if (piece->style == STYLE_PLAIN)
        format_plain(x, digits);
    else
        (void)number_format_fixed(x, piece->style == STYLE_FIXED ? piece->decimals : 0, digits);
    text_add(out, digits);
    return true;
}

static bool add_parameter(const struct profile *profile, const char *parameter, struct text *out,
                          struct error *e)
{
    if (!parameter)
        return error_set(e, ERROR_BENCH,
                         "%s: a step that is not about one parameter holds {parameter}",
                         profile->path);
    for (size_t i = 0; i < profile->n_parameters; i++) {
        if (strcmp(profile->parameters[i].name, parameter) != 0) continue;
        text_add(out, profile->parameters[i].text);
        return true;
    }
    return error_set(e, ERROR_BENCH,
                     "%s has no name for %s: add <parameter name=\"%s\" text=\"...\"/> to it",
                     profile->path, parameter, parameter);
}

/* It comes from the bench file, which does not know what an instrument takes: a control character
 * could end the message and begin another. */
static bool add_channel(const char *channel, struct text *out, struct error *e)
{
    if (!channel || !*channel)
        return error_set(e, ERROR_BENCH,
                         "the profile asks for a channel: state it in the bench file");
    for (const char *p = channel; *p; p++)
        if (*p < ' ' || *p > '~')
            return error_set(e, ERROR_BENCH,
                             "the channel of the bench file holds a character that is not "
                             "printable ASCII: remove it");
    text_add(out, channel);
    return true;
}

static bool add_pieces(const struct profile *profile, const char *text,
                       const struct profile_values *values, struct text *out, struct error *e)
{
    struct profile_piece piece = {.kind = PIECE_BYTES};

    while (piece.kind != PIECE_END) {
        bool ok = profile_piece_next(&text, &piece, e);

        if (!ok) return false;
        switch (piece.kind) {
        case PIECE_END: break;
        case PIECE_BYTES: text_add_bytes(out, piece.bytes, piece.length); break;
        case PIECE_VALUE: ok = add_value(&piece, values, out, e); break;
        case PIECE_PARAMETER: ok = add_parameter(profile, values->parameter, out, e); break;
        case PIECE_CHANNEL: ok = add_channel(values->channel, out, e); break;
        }
        if (!ok) return false;
    }
    return true;
}

bool profile_render(const struct profile *profile, const char *text,
                    const struct profile_values *values, struct text *out, struct error *e)
{
    struct text made = {.ceiling = CEILING_PROFILE_MESSAGE};
    bool ok = add_pieces(profile, text, values, &made, e) && text_ok(&made, "a message", e);

    if (ok) {
        text_add_bytes(out, text_words(&made), made.length);
        ok = text_ok(out, "a message", e);
    }
    text_clear(&made);
    return ok;
}

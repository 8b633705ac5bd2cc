#include "drivers/emulator_fault.h"

#include <math.h>
#include <string.h>
#include <strings.h>

#include "drivers/base/number.h"

const struct emulator_fault_row emulator_fault_rows[EMULATOR_FAULTS] = {
    [EMULATOR_LATE] = {"late", "the answer comes so many seconds late", false, 0.2},
    [EMULATOR_SILENT] = {"silent", "no answer", false, 0},
    [EMULATOR_BYTES] = {"bytes", "one byte at a time, so many seconds apart", false, 0.001},
    [EMULATOR_TWICE] = {"twice", "the answer comes twice in one piece", false, 0},
    [EMULATOR_NOISE_BEFORE] = {"noise-before", "stray bytes before the answer", false, 0},
    [EMULATOR_NOISE_AFTER] = {"noise-after", "stray bytes after the answer's end", false, 0},
    [EMULATOR_CRLF] = {"crlf", "answers end with CR LF", false, 0},
    [EMULATOR_CR] = {"cr", "answers end with CR", false, 0},
    [EMULATOR_LF_CR] = {"lf-cr", "answers end with LF CR", false, 0},
    [EMULATOR_DOUBLE_LF] = {"double-lf", "answers end with two LF", false, 0},
    [EMULATOR_NO_END] = {"no-end", "the answer has no terminator", false, 0},
    [EMULATOR_ECHO] = {"echo", "messages are repeated before they are answered", false, 0},
    [EMULATOR_ECHO_WRONG] = {"echo-wrong", "... with one wrong character", false, 0},
    [EMULATOR_PROMPT] = {"prompt", "a prompt without a line end follows the answer", false, 0},
    [EMULATOR_NUL] = {"nul", "a NUL byte behind each byte", false, 0},
    [EMULATOR_EIGHTH_BIT] = {"eighth-bit", "the eighth bit of each byte is set", false, 0},
    [EMULATOR_CUT] = {"cut", "half the answer, then silence", false, 0},
    [EMULATOR_CUT_GONE] = {"cut-gone", "half the answer, then a hang-up", false, 0},
    [EMULATOR_GONE_BEFORE] = {"gone-before", "a hang-up instead of the answer", false, 0},
    [EMULATOR_GONE_AFTER] = {"gone-after", "a hang-up after the answer", false, 0},
    [EMULATOR_DEAF] = {"deaf", "the instrument reads nothing any more", true, 0},
    [EMULATOR_BANNER] = {"banner", "a start-up message on opening, output unknown", true, 0},
    [EMULATOR_STALE] = {"stale", "an old answer waits on opening", true, 0},
    [EMULATOR_TELNET] = {"telnet", "Telnet negotiation on opening", true, 0},
    [EMULATOR_REFUSES] = {"refuses", "a hang-up on opening", true, 0},
    [EMULATOR_UNIT_SUFFIX] = {"unit-suffix", "a number is answered with its unit", false, 0},
    [EMULATOR_BLOCK_FOR_TEXT] = {"block-for-text", "a block instead of a text", false, 0},
    [EMULATOR_BLOCK_LONG] = {"block-long", "the block's length is 4 too large", false, 0},
    [EMULATOR_BLOCK_SHORT] = {"block-short", "the block's length is 4 too small", false, 0},
    [EMULATOR_BLOCK_HUGE] = {"block-huge", "the block claims 999999999 bytes", false, 0},
    [EMULATOR_BLOCK_INDEFINITE] = {"block-indefinite", "a block without a length", false, 0},
    [EMULATOR_BLOCK_LETTER] = {"block-letter", "a letter where the block's length is due", false,
                               0},
    [EMULATOR_BLOCK_DIGITS] = {"block-digits", "a letter inside the block's length", false, 0},
    [EMULATOR_TEXT_FOR_BLOCK] = {"text-for-block", "a text instead of a block", false, 0},
    [EMULATOR_SWAPPED] = {"swapped", "blocks in the other byte order", false, 0},
    [EMULATOR_OTHER_REAL] = {"other-real", "64-bit reals for 32-bit ones and the reverse", false,
                             0},
    [EMULATOR_EMPTY_FIELD] = {"empty-field", "a number in the list is missing", false, 0},
    [EMULATOR_TRAILING_COMMA] = {"trailing-comma", "a comma behind the last number", false, 0},
    [EMULATOR_DECIMAL_COMMA] = {"decimal-comma", "the decimal sign is a comma", false, 0},
    [EMULATOR_TWO_POINTS] = {"two-points", "a number in the list is 1.2.3", false, 0},
    [EMULATOR_HEX] = {"hex", "a number in the list is hexadecimal", false, 0},
    [EMULATOR_WORD_NAN] = {"word-nan", "a number in the list is the word NAN", false, 0},
    [EMULATOR_WORD_INF] = {"word-inf", "a number in the list is the word INF", false, 0},
    [EMULATOR_DASHES] = {"dashes", "a number in the list is ----", false, 0},
    [EMULATOR_BLANK_SEPARATED] = {"blank-separated", "blanks between numbers", false, 0},
    [EMULATOR_LINE_SEPARATED] = {"line-separated", "a line for each number", false, 0},
    [EMULATOR_POINT_FEWER] = {"point-fewer", "one point is missing", false, 0},
    [EMULATOR_POINT_MORE] = {"point-more", "one point too many", false, 0},
    [EMULATOR_POINT_HALF] = {"point-half", "half the points", false, 0},
    [EMULATOR_POINT_DOUBLE] = {"point-double", "twice the points", false, 0},
    [EMULATOR_AXIS_SHIFTED] = {"axis-shifted", "the frequency axis lies 1 MHz too high", false, 0},
    [EMULATOR_AXIS_FALLING] = {"axis-falling", "the frequency axis falls", false, 0},
    [EMULATOR_AXIS_REPEATED] = {"axis-repeated", "two points have one frequency", false, 0},
    [EMULATOR_AXIS_MHZ] = {"axis-mhz", "the frequency axis is in MHz", false, 0},
    [EMULATOR_NAN_POINT] = {"nan-point", "one number is 9.91E37, not a number", false, 0},
    [EMULATOR_INF_POINT] = {"inf-point", "one number is 9.9E37, infinity", false, 0},
    [EMULATOR_MINUS_INF_POINT] = {"minus-inf-point", "one number is -9.9E37", false, 0},
    [EMULATOR_IEEE_NAN] = {"ieee-nan", "one number is an IEEE 754 NaN", false, 0},
    [EMULATOR_IEEE_INF] = {"ieee-inf", "one number is an IEEE 754 infinity", false, 0},
    [EMULATOR_ZEROS] = {"zeros", "every number is zero", false, 0},
    [EMULATOR_CONSTANT] = {"constant", "every number is the same", false, 0},
    [EMULATOR_TINY] = {"tiny", "every number is 1e-40", false, 0},
    [EMULATOR_MIXED_UP] = {"mixed-up", "S11 comes for S21 and the reverse", false, 0},
    [EMULATOR_SPLIT] = {"split", "all real parts, then all imaginary parts", false, 0},
    [EMULATOR_FROZEN] = {"frozen", "sweeps do not run: the last one stays", true, 0},
    [EMULATOR_ROUNDS_POINTS] = {"rounds-points", "points become even, and reading says so", true,
                                0},
    [EMULATOR_ROUNDS_HIDDEN] = {"rounds-hidden", "points become even, but reading hides it", true,
                                0},
    [EMULATOR_CORRECTION_OFF] = {"correction-off", "the correction is lost", true, 0},
    [EMULATOR_POWER_ON] = {"power-on", "the instrument lost power and came back", false, 0},
    [EMULATOR_OTHER_SERIAL] = {"other-serial", "another instrument answers to *IDN?", true, 0},
    [EMULATOR_ERROR] = {"error", "an error of this number comes into the queue", false, -310},
    [EMULATOR_ERRORS_FOR_EVER] = {"errors-for-ever", "the error queue never empties", true, 0},
    [EMULATOR_OPC_AT_ONCE] = {"opc-at-once", "*OPC? answers while the sweep runs", true, 0},
    [EMULATOR_OPC_NEVER] = {"opc-never", "*OPC? is never answered", false, 0},
    [EMULATOR_OPC_PLUS] = {"opc-plus", "*OPC? answers +1", false, 0},
    [EMULATOR_OPC_DECIMAL] = {"opc-decimal", "*OPC? answers 1.0", false, 0},
    [EMULATOR_OPC_ZERO] = {"opc-zero", "*OPC? answers 0", false, 0},
    [EMULATOR_CLIPS_POWER] = {"clips-power", "the source gives no more than -25 dBm", true, -25},
    [EMULATOR_OVERLOAD] = {"overload", "the receiver is overloaded and says so", true, 0},
    [EMULATOR_LONG_IDENTITY] = {"long-identity", "*IDN? answers 4,000 characters", false, 0},
    [EMULATOR_STRANGE_IDENTITY] = {"strange-identity", "*IDN? answers with mark-up and controls",
                                   false, 0},
    [EMULATOR_OVER_CURRENT] = {"over-current", "the board draws so many times its current", true,
                               50},
    [EMULATOR_TRIP] = {"trip", "the supply trips", true, 0},
    [EMULATOR_CONSTANT_CURRENT] = {"constant-current", "the voltage sags under the limit", true, 0},
    [EMULATOR_VOLTAGE_ZERO] = {"voltage-zero", "the voltage reads 0 though it is on", true, 0},
    [EMULATOR_VOLTAGE_SIGN] = {"voltage-sign", "readings have the wrong sign", true, 0},
    [EMULATOR_MILLI] = {"milli", "readings are in mV and mA", true, 0},
    [EMULATOR_STAYS_ON] = {"stays-on", "the output does not switch off", true, 0},
};

static bool bad_word(const char *word, size_t length, const char *advice, struct error *e)
{
    return error_set(e, ERROR_USAGE, "fault \"%.*s\": %s", (int)(length > 80 ? 80 : length), word,
                     advice);
}

/* Reads "@3", "@3+", "@LETTERS", "@LETTERS#2" behind the at sign. */
static bool read_when(struct emulator_armed *armed, const char *when, size_t length)
{
    char digits[EMULATOR_WHEN];
    const char *hash = memchr(when, '#', length);
    const bool is_count = when[0] >= '0' && when[0] <= '9';
    size_t n_letters = is_count ? 0 : hash ? (size_t)(hash - when) : length;
    size_t n_digits;

    if (length == 0 || length >= sizeof digits || (!is_count && n_letters == 0)) return false;
    memcpy(armed->letters, when, n_letters);
    armed->letters[n_letters] = '\0';
    if (!is_count && !hash) return true;
    if (hash && !is_count) n_letters++;
    n_digits = length - n_letters;
    armed->from = n_digits > 0 && when[length - 1] == '+';
    if (armed->from) n_digits--;
    memcpy(digits, when + n_letters, n_digits);
    digits[n_digits] = '\0';
    return number_parse_whole(digits, 1000000000UL, &armed->count) && armed->count > 0;
}

/* The fault whose name stands at `name`. */
static bool find(const char *name, size_t length, enum emulator_fault *out)
{
    for (unsigned i = 0; i < EMULATOR_FAULTS; i++)
        if (strlen(emulator_fault_rows[i].name) == length &&
            strncmp(emulator_fault_rows[i].name, name, length) == 0) {
            *out = (enum emulator_fault)i;
            return true;
        }
    return false;
}

static bool read_value(struct emulator_armed *armed, const char *at, size_t length)
{
    char digits[NUMBER_TEXT];

    if (length >= sizeof digits) return false;
    memcpy(digits, at, length);
    digits[length] = '\0';
    return number_parse(digits, &armed->value) && fabs(armed->value) <= 86400;
}

/* Reads one word; `*is_mine` tells whether it is for this instrument. */
static bool read_word(const char *word, size_t length, const char *instrument,
                      struct emulator_armed *armed, bool *is_mine, struct error *e)
{
    const char *end = word + length, *at = memchr(word, '@', length);
    const char *name_end = at ? at : end;
    const char *equals = memchr(word, '=', (size_t)(name_end - word));
    const char *dot, *name = word;

    if (equals) name_end = equals;
    dot = memchr(word, '.', (size_t)(name_end - word));
    if (dot) name = dot + 1;
    *is_mine = !dot || (strlen(instrument) == (size_t)(dot - word) &&
                        strncmp(instrument, word, (size_t)(dot - word)) == 0);
    if (dot && strncmp(word, "analyser.", (size_t)(dot - word) + 1) != 0 &&
        strncmp(word, "supply.", (size_t)(dot - word) + 1) != 0)
        return bad_word(word, length, "the instrument is \"analyser\" or \"supply\"", e);
    if (!find(name, (size_t)(name_end - name), &armed->fault))
        return bad_word(word, length, "there is no fault of this name; --fault list shows all", e);
    armed->value = emulator_fault_rows[armed->fault].value;
    if (equals && !read_value(armed, equals + 1, (size_t)((at ? at : end) - equals - 1)))
        return bad_word(word, length, "write a number behind =, not above 86400", e);
    if (at && !read_when(armed, at + 1, (size_t)(end - at - 1)))
        return bad_word(word, length,
                        "write @3, @3+, @LETTERS or @LETTERS#2 with the number of the query", e);
    return true;
}

bool emulator_fault_arm(struct emulator_faults *faults, const char *instrument, const char *words,
                        struct error *e)
{
    struct emulator_armed made[EMULATOR_ARMED] = {0};
    unsigned n = 0;

    for (const char *at = words + strspn(words, " ;"); *at; at += strspn(at, " ;")) {
        const size_t length = strcspn(at, " ;");
        struct emulator_armed armed = {0};
        bool is_mine;

        if (!read_word(at, length, instrument, &armed, &is_mine, e)) return false;
        if (is_mine && faults->n + n == EMULATOR_ARMED)
            return bad_word(at, length, "no more than 16 faults at once", e);
        if (is_mine) made[n++] = armed;
        at += length;
    }
    memcpy(faults->armed + faults->n, made, n * sizeof *made);
    faults->n += n;
    return true;
}

/* Whether `part` stands in `message`, whatever the case. */
static bool holds(const char *message, const char *part)
{
    for (; *message; message++)
        if (strncasecmp(message, part, strlen(part)) == 0) return true;
    return false;
}

static bool strikes(struct emulator_armed *armed, const char *message, bool is_query,
                    unsigned long n_queries)
{
    unsigned long count = n_queries;

    if (armed->letters[0]) {
        if (!holds(message, armed->letters)) return armed->begun;
        count = ++armed->n_seen;
    } else if (armed->count > 0 && !is_query) {
        /* A command between two queries belongs to neither, but "from" and "lasting" go on. */
        return armed->begun;
    }
    if (armed->count > 0 && count != armed->count) return armed->begun;
    if (armed->from || emulator_fault_rows[armed->fault].lasts) armed->begun = true;
    return true;
}

void emulator_fault_begin(struct emulator_faults *faults, const char *message, bool is_query)
{
    memset(faults->now, 0, sizeof faults->now);
    if (is_query) faults->n_queries++;
    for (unsigned i = 0; i < faults->n; i++) {
        struct emulator_armed *armed = &faults->armed[i];

        if (!strikes(armed, message, is_query, faults->n_queries)) continue;
        faults->now[armed->fault] = true;
        faults->value[armed->fault] = armed->value;
    }
}

static void change_axis(const bool *now, double *numbers, size_t n)
{
    for (size_t i = 0; i < n / 2 && now[EMULATOR_AXIS_FALLING]; i++) {
        const double kept = numbers[i];

        numbers[i] = numbers[n - 1 - i];
        numbers[n - 1 - i] = kept;
    }
    for (size_t i = 0; i < n; i++) {
        if (now[EMULATOR_AXIS_SHIFTED]) numbers[i] += 1e6;
        if (now[EMULATOR_AXIS_MHZ]) numbers[i] /= 1e6;
    }
    if (now[EMULATOR_AXIS_REPEATED] && n > 2) numbers[n / 2] = numbers[n / 2 - 1];
}

static void change_trace(const bool *now, double *numbers, size_t n)
{
    double *one = &numbers[n / 2];

    for (size_t i = 0; i < n; i++) {
        if (now[EMULATOR_ZEROS]) numbers[i] = 0;
        if (now[EMULATOR_CONSTANT]) numbers[i] = 0.125;
        if (now[EMULATOR_TINY]) numbers[i] = 1e-40;
    }
    if (n == 0) return;
    if (now[EMULATOR_NAN_POINT]) *one = 9.91e37;
    if (now[EMULATOR_INF_POINT]) *one = 9.9e37;
    if (now[EMULATOR_MINUS_INF_POINT]) *one = -9.9e37;
    if (now[EMULATOR_IEEE_NAN]) *one = (double)NAN;
    if (now[EMULATOR_IEEE_INF]) *one = (double)INFINITY;
}

void emulator_fault_numbers(const struct emulator_faults *faults, bool is_axis, double *numbers,
                            size_t *n, size_t room)
{
    const bool *now = faults->now;
    const size_t parts = is_axis ? 1 : 2, had = *n;

    if (is_axis)
        change_axis(now, numbers, had);
    else
        change_trace(now, numbers, had);
    if (now[EMULATOR_POINT_FEWER] && *n >= parts) *n -= parts;
    if (now[EMULATOR_POINT_HALF]) *n = had / parts / 2 * parts;
    if (now[EMULATOR_POINT_MORE]) *n = had + parts;
    if (now[EMULATOR_POINT_DOUBLE]) *n = 2 * had;
    if (*n > room) *n = room;
    /* What is too much looks like the rest. */
    for (size_t i = had; i < *n && had >= parts; i++)
        numbers[i] = numbers[i - parts];
}

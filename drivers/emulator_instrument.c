/* What every emulated instrument does alike: messages from bytes, headers to handlers, numbers with
 * their bounds, the common commands of IEEE 488.2 and the error queue. */
#include <math.h>
#include <string.h>

#include "drivers/base/memory.h"
#include "drivers/emulator_output.h"

/* Standard event status, IEEE 488.2, 11.5.1.1 (from memory). */
#define EVENT_OPC 1U
#define EVENT_QYE 4U
#define EVENT_DDE 8U
#define EVENT_EXE 16U
#define EVENT_CME 32U
#define EVENT_PON 128U

void emulator_error(struct emulator_instrument *i, int number)
{
    emulator_error_add(&i->errors, number);
    if (number <= -100 && number > -200) i->event_status |= EVENT_CME;
    if (number <= -200 && number > -300) i->event_status |= EVENT_EXE;
    if ((number <= -300 && number > -400) || number > 0) i->event_status |= EVENT_DDE;
    if (number <= -400 && number > -500) i->event_status |= EVENT_QYE;
}

bool emulator_has(const struct emulator_instrument *i, enum emulator_fault fault)
{
    return i->faults.now[fault];
}

const struct emulator_datum *emulator_one(struct emulator_instrument *i,
                                          const struct emulator_unit *unit)
{
    if (unit->n_data == 1) return &unit->data[0];
    emulator_error(i, unit->n_data == 0 ? -109 : -108);
    return NULL;
}

bool emulator_read_switch(struct emulator_instrument *i, const struct emulator_unit *unit,
                          bool *out)
{
    const struct emulator_datum *datum = emulator_one(i, unit);
    const int number = datum ? emulator_boolean(*datum, out) : 0;

    if (number) emulator_error(i, number);
    return datum && number == 0;
}

static void reset_numbers(struct emulator_instrument *i)
{
    for (const struct emulator_header *h = i->kind->headers; h->pattern; h++)
        if (h->unit) i->settings[h->setting] = h->reset;
}

/* MINimum, MAXimum and DEFault stand for the bounds. */
static bool read_bound(struct emulator_datum datum, const struct emulator_header *h, double *out)
{
    if (emulator_is_word(datum, "MINimum"))
        *out = h->min;
    else if (emulator_is_word(datum, "MAXimum"))
        *out = h->max;
    else if (emulator_is_word(datum, "DEFault"))
        *out = h->reset;
    else
        return false;
    return true;
}

static void set_number(struct emulator_instrument *i, const struct emulator_header *h,
                       const struct emulator_unit *unit)
{
    const struct emulator_datum *datum = emulator_one(i, unit);
    double x;
    int number = 0;

    if (!datum) return;
    if (!read_bound(*datum, h, &x)) number = emulator_number(*datum, h->unit, &x);
    if (number == 0 && h->is_whole) x = round(x);
    if (number == 0 && !(x >= h->min && x <= h->max)) number = -222;
    if (number) {
        emulator_error(i, number);
        return;
    }
    i->settings[h->setting] = x;
    if (h->set) h->set(i, unit, NULL);
}

static void ask_number(struct emulator_instrument *i, const struct emulator_header *h,
                       const struct emulator_unit *unit, struct text *answer)
{
    double x = i->settings[h->setting];

    if (unit->n_data > 1) {
        emulator_error(i, -108);
    } else if (unit->n_data == 1 && !read_bound(unit->data[0], h, &x)) {
        emulator_error(i, -224);
    } else if (h->ask) {
        h->ask(i, unit, answer);
    } else if (h->is_whole) {
        text_add_fixed(answer, x, 0);
    } else {
        emulator_add_nr3(answer, x);
    }
}

static void ask_identity(struct emulator_instrument *i, const struct emulator_unit *unit,
                         struct text *answer)
{
    (void)unit;
    i->identity_given = true;
    text_addf(answer, "%s,E%05u,1", i->kind->identity,
              (unsigned)(i->bench->settings.seed % 50000) +
                  (emulator_has(i, EMULATOR_OTHER_SERIAL) ? 50000U : 0U));
    for (unsigned k = 0; k < 400 && emulator_has(i, EMULATOR_LONG_IDENTITY); k++)
        text_add(answer, "0123456789");
    if (emulator_has(i, EMULATOR_STRANGE_IDENTITY))
        text_add(answer, "<script>alert(1)</script>&\x1b[2J\xc3\xa9\x07=1+1");
}

static void reset(struct emulator_instrument *i, const struct emulator_unit *unit, struct text *a)
{
    (void)unit, (void)a;
    reset_numbers(i);
    if (i->kind->reset) i->kind->reset(i);
}

static void recall(struct emulator_instrument *i, const struct emulator_unit *unit, struct text *a)
{
    const struct emulator_datum *datum;
    double x;
    int number;

    (void)a;
    if (!i->kind->recall) {
        emulator_error(i, -113);
        return;
    }
    datum = emulator_one(i, unit);
    if (!datum) return;
    number = emulator_number(*datum, "", &x);
    if (number == 0 && !(round(x) >= 0 && round(x) <= 9)) number = -222;
    if (number) {
        emulator_error(i, number);
        return;
    }
    reset(i, unit, NULL);
    i->kind->recall(i);
}

static void clear_status(struct emulator_instrument *i, const struct emulator_unit *unit,
                         struct text *answer)
{
    (void)unit, (void)answer;
    i->errors.n = 0;
    i->event_status = 0;
    i->opc_wanted = false;
}

static void set_mask(struct emulator_instrument *i, const struct emulator_unit *unit,
                     unsigned *mask)
{
    const struct emulator_datum *datum = emulator_one(i, unit);
    double x;
    int number = datum ? emulator_number(*datum, "", &x) : 0;

    if (!datum) return;
    if (number == 0 && !(round(x) >= 0 && round(x) <= 255)) number = -222;
    if (number)
        emulator_error(i, number);
    else
        *mask = (unsigned)round(x);
}

static void set_event_enable(struct emulator_instrument *i, const struct emulator_unit *unit,
                             struct text *answer)
{
    (void)answer;
    set_mask(i, unit, &i->event_enable);
}

static void ask_event_enable(struct emulator_instrument *i, const struct emulator_unit *unit,
                             struct text *answer)
{
    (void)unit;
    text_addf(answer, "%u", i->event_enable);
}

static void set_service_enable(struct emulator_instrument *i, const struct emulator_unit *unit,
                               struct text *answer)
{
    (void)answer;
    set_mask(i, unit, &i->service_enable);
    i->service_enable &= ~64U; /* IEEE 488.2, 11.3.2.3: bit 6 has no enable */
}

static void ask_service_enable(struct emulator_instrument *i, const struct emulator_unit *unit,
                               struct text *answer)
{
    (void)unit;
    text_addf(answer, "%u", i->service_enable);
}

static void ask_event_status(struct emulator_instrument *i, const struct emulator_unit *unit,
                             struct text *answer)
{
    (void)unit;
    text_addf(answer, "%u", i->event_status);
    i->event_status = 0;
}

static void ask_status_byte(struct emulator_instrument *i, const struct emulator_unit *unit,
                            struct text *answer)
{
    unsigned status = i->errors.n > 0 ? 4U : 0U;

    (void)unit;
    if (i->event_status & i->event_enable) status |= 32U;
    if (status & i->service_enable) status |= 64U;
    text_addf(answer, "%u", status);
}

static double done_s(const struct emulator_instrument *i)
{
    return i->kind->done_s ? i->kind->done_s(i) : i->now_s;
}

static void want_complete(struct emulator_instrument *i, const struct emulator_unit *unit,
                          struct text *answer)
{
    (void)unit, (void)answer;
    i->opc_wanted = true;
}

static void ask_complete(struct emulator_instrument *i, const struct emulator_unit *unit,
                         struct text *answer)
{
    (void)unit;
    if (emulator_has(i, EMULATOR_OPC_NEVER)) return;
    if (!emulator_has(i, EMULATOR_OPC_AT_ONCE)) i->answer_due_s = fmax(i->answer_due_s, done_s(i));
    text_add(answer, emulator_has(i, EMULATOR_OPC_PLUS)      ? "+1"
                     : emulator_has(i, EMULATOR_OPC_DECIMAL) ? "1.0"
                     : emulator_has(i, EMULATOR_OPC_ZERO)    ? "0"
                                                             : "1");
}

/* *WAI: what comes after a sweep sees its end, as far as this model goes, in *OPC?. */
static void do_nothing(struct emulator_instrument *i, const struct emulator_unit *unit,
                       struct text *answer)
{
    (void)i, (void)unit, (void)answer;
}

static void ask_test(struct emulator_instrument *i, const struct emulator_unit *unit,
                     struct text *answer)
{
    (void)i, (void)unit;
    text_add(answer, "0");
}

static void ask_error(struct emulator_instrument *i, const struct emulator_unit *unit,
                      struct text *answer)
{
    (void)unit;
    if (emulator_has(i, EMULATOR_ERRORS_FOR_EVER) && i->errors.n == 0) emulator_error(i, -240);
    emulator_error_take(&i->errors, answer);
}

/* IEEE 488.2, 10 (mandatory but for *RCL), and the error queue. */
static const struct emulator_header common_headers[] = {
    {.pattern = "*IDN", .ask = ask_identity},
    {.pattern = "*RST", .set = reset},
    {.pattern = "*RCL", .set = recall},
    {.pattern = "*CLS", .set = clear_status},
    {.pattern = "*ESE", .set = set_event_enable, .ask = ask_event_enable},
    {.pattern = "*SRE", .set = set_service_enable, .ask = ask_service_enable},
    {.pattern = "*ESR", .ask = ask_event_status},
    {.pattern = "*STB", .ask = ask_status_byte},
    {.pattern = "*OPC", .set = want_complete, .ask = ask_complete},
    {.pattern = "*WAI", .set = do_nothing},
    {.pattern = "*TST", .ask = ask_test},
    {.pattern = "SYSTem:ERRor[:NEXT]", .ask = ask_error},
    {.pattern = NULL},
};

static const struct emulator_header *find(const struct emulator_header *headers, const char *header,
                                          int *number)
{
    for (; headers->pattern; headers++) {
        const int found = emulator_match(headers->pattern, header);

        if (found == 0) return headers;
        if (found == -114) *number = found;
    }
    return NULL;
}

/* Executes one unit; the number of a command error ends the message. */
static int execute_unit(struct emulator_instrument *i, const struct emulator_unit *unit,
                        struct text *answer)
{
    int number = -113;
    const struct emulator_header *h = find(common_headers, unit->header, &number);

    if (!h) h = find(i->kind->headers, unit->header, &number);
    if (!h) return number;
    if (unit->is_query && i->identity_given) {
        emulator_error(i, -440);
    } else if (h->unit && unit->is_query) {
        ask_number(i, h, unit, answer);
    } else if (h->unit) {
        set_number(i, h, unit);
    } else if (unit->is_query ? !h->ask : !h->set) {
        return -113;
    } else {
        (unit->is_query ? h->ask : h->set)(i, unit, answer);
    }
    return 0;
}

static void execute_units(struct emulator_instrument *i, const char *bytes, size_t n,
                          struct text *answer)
{
    struct emulator_message message = {.at = bytes, .end = bytes + n};
    struct emulator_unit unit;
    bool there = true;

    i->identity_given = false;
    while (there) {
        const size_t before = answer->length;
        int number = emulator_next_unit(&message, &unit, &there);

        if (number == 0 && !there) return;
        /* Units of an answer are parted by semicolons; one that says nothing needs none. */
        if (number == 0 && unit.is_query && before > 0) text_add(answer, ";");
        if (number == 0) number = execute_unit(i, &unit, answer);
        if (before > 0 && answer->length == before + 1) answer->length = before;
        if (number) {
            emulator_error(i, number);
            return;
        }
    }
}

/* What happened to the instrument by itself. */
static void strike(struct emulator_instrument *i)
{
    if (emulator_has(i, EMULATOR_POWER_ON)) {
        reset(i, NULL, NULL);
        i->event_status = EVENT_PON;
    }
    if (emulator_has(i, EMULATOR_ERROR)) emulator_error(i, (int)i->faults.value[EMULATOR_ERROR]);
    if (emulator_has(i, EMULATOR_DEAF)) i->deaf = true;
    if (i->opc_wanted && i->now_s >= done_s(i)) {
        i->event_status |= EVENT_OPC;
        i->opc_wanted = false;
    }
    if (i->kind->begin) i->kind->begin(i);
}

static bool execute(struct emulator_instrument *i, double now_s, struct error *e)
{
    const char *message = text_words(&i->input);
    const bool is_query = memchr(message, '?', i->input.length) != NULL;

    i->now_s = i->answer_due_s = now_s;
    text_reset(&i->answer);
    emulator_fault_begin(&i->faults, message, is_query);
    strike(i);
    if (i->deaf) return true;
    if (i->overrun)
        emulator_error(i, -363);
    else
        execute_units(i, message, i->input.length, &i->answer);
    return emulator_output_answer(i, message, &i->answer, e);
}

bool emulator_feed(struct emulator_instrument *i, const char *bytes, size_t n, double now_s,
                   struct error *e)
{
    while (n > 0 && !i->deaf) {
        const char *end = memchr(bytes, '\n', n);
        const size_t length = end ? (size_t)(end - bytes) : n;

        if (i->input.length + length > CEILING_EMULATOR_MESSAGE)
            i->overrun = true;
        else
            text_add_bytes(&i->input, bytes, length);
        if (!text_ok(&i->input, "a message", e)) return false;
        if (!end) return true;
        if (!execute(i, now_s, e)) return false;
        text_reset(&i->input);
        i->overrun = false;
        n -= length + 1;
        bytes = end + 1;
    }
    return true;
}

bool emulator_opened(struct emulator_instrument *i, double now_s, struct error *e)
{
    emulator_closed(i);
    i->now_s = now_s;
    return emulator_output_opening(i, e);
}

void emulator_closed(struct emulator_instrument *i)
{
    emulator_output_clear(i);
    text_reset(&i->input);
    i->overrun = i->deaf = false;
}

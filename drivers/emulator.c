#include "drivers/emulator.h"

#include <string.h>

#include "drivers/base/memory.h"
#include "drivers/base/number.h"
#include "drivers/board_archive.h"
#include "drivers/board_build.h"
#include "drivers/emulator_output.h"

#define FIRST_SERIAL 101UL

static void start(struct emulator *bench, struct emulator_instrument *i,
                  const struct emulator_kind *kind)
{
    i->bench = bench;
    i->kind = kind;
    i->event_status = 128; /* power on: IEEE 488.2, 11.5.1.1.1 */
    for (const struct emulator_header *h = kind->headers; h->pattern; h++)
        if (h->unit) i->settings[h->setting] = h->reset;
    if (kind->reset) kind->reset(i);
    if (kind->recall) kind->recall(i);
}

void emulator_start(struct emulator *bench, const struct emulator_settings *settings)
{
    *bench = (struct emulator){.settings = *settings};
    start(bench, &bench->analyser, &emulator_analyser);
    start(bench, &bench->supply, &emulator_supply);
    start(bench, &bench->fixture, &emulator_fixture);
}

static void end(struct emulator_instrument *i)
{
    emulator_output_clear(i);
    memory_free(i->chunks);
    text_clear(&i->input);
    text_clear(&i->answer);
}

void emulator_clear(struct emulator *bench)
{
    end(&bench->analyser);
    end(&bench->supply);
    end(&bench->fixture);
    sweep_clear(&bench->a.before);
    sweep_clear(&bench->a.last);
    *bench = (struct emulator){0};
}

bool emulator_connect(struct emulator *bench, const char *serial, struct error *e)
{
    unsigned long digits = 0;

    if (!serial || !*serial) {
        bench->connected = false;
    } else if (strlen(serial) == 8 && strncmp(serial, "KW", 2) == 0 &&
               number_parse_whole(serial + 2, FIRST_SERIAL + BOARD_ARCHIVE_UNITS - 1, &digits) &&
               digits >= FIRST_SERIAL) {
        bench->connected = true;
        bench->number = digits - FIRST_SERIAL;
        bench->n_connections++;
        board_build(&bench->board, bench->settings.seed, bench->number);
    } else {
        return error_set(e, ERROR_USAGE,
                         "\"%.40s\" is no emulated board: write KW000101 to KW100100, or nothing "
                         "for an empty fixture",
                         serial);
    }
    emulator_power(bench);
    return true;
}

bool emulator_arm(struct emulator *bench, const char *words, struct error *e)
{
    return emulator_fault_arm(&bench->analyser.faults, "analyser", words, e) &&
           emulator_fault_arm(&bench->supply.faults, "supply", words, e);
}

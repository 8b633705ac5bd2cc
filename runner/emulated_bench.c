#include "runner/emulated_bench.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include "drivers/base/deadline.h"
#include "drivers/base/memory.h"
#include "drivers/base/number.h"
#include "drivers/emulator_serve.h"

#define N_PORTS 3
#define LARGEST_SEED 4294967295UL
#define SCHEME "emulated:"
/* How long it may take to see that its lines are closed. */
#define END_S 1.0

struct wishes {
    struct emulator_settings settings;
    char faults[512]; /* "": none */
};

static bool is_emulated(const char *port)
{
    return port && strncmp(port, SCHEME, strlen(SCHEME)) == 0;
}

/* NAME=VALUE of the options, `n` characters. */
static bool take_option(struct wishes *out, const char *option, size_t n)
{
    char words[sizeof out->faults];
    unsigned long seed;

    if (n >= sizeof words) return false;
    memcpy(words, option, n);
    words[n] = '\0';
    if (strcmp(words, "sweep-time=yes") == 0) {
        out->settings.takes_time = true;
        return true;
    }
    if (strncmp(words, "seed=", 5) == 0) {
        if (!number_parse_whole(words + 5, LARGEST_SEED, &seed)) return false;
        out->settings.seed = seed;
        return true;
    }
    if (strncmp(words, "fault=", 6) != 0) return false;
    /* '+' stands for the blank between two faults. */
    for (char *c = words; *c; c++)
        if (*c == '+') *c = ' ';
    memcpy(out->faults, words + 6, strlen(words + 6) + 1);
    return true;
}

/* There is one bench behind all three ports: its options stand in one place. */
static bool check_no_options(const struct bench_file *file, struct error *e)
{
    const char *const ports[] = {file->supply.port, file->fixture};

    for (size_t k = 0; k < sizeof ports / sizeof *ports; k++)
        if (is_emulated(ports[k]) && strchr(ports[k], '?'))
            return error_set(e, ERROR_INPUT,
                             "%s: %s: options of the emulated bench stand behind emulated:analyser",
                             file->path, ports[k]);
    return true;
}

static bool read_wishes(struct wishes *out, const struct bench_file *file, struct error *e)
{
    const char *at = is_emulated(file->analyser.port) ? strchr(file->analyser.port, '?') : NULL;

    out->settings.seed = 1;
    if (!check_no_options(file, e)) return false;
    while (at) {
        const char *end = strchr(++at, '&');
        const size_t n = end ? (size_t)(end - at) : strlen(at);

        if (!take_option(out, at, n))
            return error_set(e, ERROR_INPUT,
                             "%s:%lu: \"%.*s\" is no option of emulated:analyser: write seed=N, "
                             "fault=WORDS or sweep-time=yes",
                             file->path, file->analyser.line, (int)n, at);
        at = end;
    }
    return true;
}

/* Nothing of the program's stays open here: neither a lock nor the end of somebody's pipe. */
static void close_others(int descriptors[N_PORTS])
{
    const unsigned first = STDERR_FILENO + 1;

    /* Out of the way of the places that they go to. */
    for (unsigned k = 0; k < N_PORTS; k++)
        descriptors[k] = fcntl(descriptors[k], F_DUPFD, (int)first + N_PORTS);
    for (unsigned k = 0; k < N_PORTS; k++)
        descriptors[k] = dup2(descriptors[k], (int)(first + k));
    (void)close_range(first + N_PORTS, ~0U, 0);
}

/* The child: a bench that lives until its three lines are closed. */
static _Noreturn void live(const struct wishes *wishes, int descriptors[N_PORTS])
{
    static const int deaf[] = {SIGINT, SIGTERM, SIGHUP, SIGQUIT, SIGTSTP, SIGPIPE};
    static struct emulator bench;
    struct emulator_server server = {.bench = &bench, .ignores_stop = true};
    struct emulator_instrument *instruments[N_PORTS];
    struct error e = {0};
    bool ok = true;

    (void)setsid();
    close_others(descriptors);
    for (size_t k = 0; k < sizeof deaf / sizeof *deaf; k++)
        (void)signal(deaf[k], SIG_IGN);
    (void)prctl(PR_SET_NAME, "gainsieve-bench");
    emulator_start(&bench, &wishes->settings);
    instruments[0] = &bench.analyser;
    instruments[1] = &bench.supply;
    instruments[2] = &bench.fixture;
    for (unsigned k = 0; ok && k < N_PORTS; k++)
        ok = emulator_server_open(&server, instruments[k], descriptors[k], &e);
    ok = ok && (!wishes->faults[0] || emulator_arm(&bench, wishes->faults, &e)) &&
         emulator_serve(&server, &e);
    emulator_server_clear(&server);
    emulator_clear(&bench);
    _exit(ok ? 0 : 1);
}

/* The faults' words are checked here, where they can still be told to somebody. */
static bool check_faults(const struct wishes *wishes, const struct bench_file *file,
                         struct error *e)
{
    static struct emulator trial;
    struct error why = {0};
    bool ok;

    if (!wishes->faults[0]) return true;
    emulator_start(&trial, &wishes->settings);
    ok = emulator_arm(&trial, wishes->faults, &why);
    emulator_clear(&trial);
    return ok || error_set(e, ERROR_INPUT, "%s:%lu: %s", file->path, file->analyser.line, why.text);
}

static bool make_pairs(int ours[N_PORTS], int theirs[N_PORTS], struct error *e)
{
    for (unsigned k = 0; k < N_PORTS; k++) {
        int pair[2];

        if (socketpair(AF_UNIX, SOCK_STREAM, 0, pair) != 0)
            return error_set(e, ERROR_BENCH, "the emulated bench cannot be started: %s",
                             strerror(errno));
        ours[k] = pair[0];
        theirs[k] = pair[1];
    }
    return true;
}

static void close_all(int descriptors[N_PORTS])
{
    for (unsigned k = 0; k < N_PORTS; k++) {
        if (descriptors[k] >= 0) (void)close(descriptors[k]);
        descriptors[k] = -1;
    }
}

/* An emulated port becomes fd:N under its own name: each link that opens it gets a copy. */
static bool name_port(struct emulated_bench *b, unsigned k, char **port, struct error *e)
{
    struct text words = {0};
    char *made = NULL;

    if (!is_emulated(*port)) return true;
    text_addf(&words, "fd:%d=%s", b->descriptors[k], *port);
    if (text_ok(&words, "a port", e)) made = memory_copy_text(words.data, e);
    text_clear(&words);
    if (!made) return false;
    memory_free(*port);
    *port = made;
    return true;
}

bool emulated_bench_start(struct emulated_bench *out, struct bench_file *file, struct error *e)
{
    int ours[N_PORTS] = {-1, -1, -1}, theirs[N_PORTS] = {-1, -1, -1};
    struct wishes wishes = {0};
    pid_t pid = -1;
    bool ok;

    *out = (struct emulated_bench){0, {-1, -1, -1}};
    if (!is_emulated(file->analyser.port) && !is_emulated(file->supply.port) &&
        !is_emulated(file->fixture))
        return true;
    ok = read_wishes(&wishes, file, e) && check_faults(&wishes, file, e) &&
         make_pairs(ours, theirs, e);
    if (ok) pid = fork();
    if (ok && pid == 0) {
        close_all(ours);
        live(&wishes, theirs);
    }
    close_all(theirs);
    if (ok && pid < 0)
        ok = error_set(e, ERROR_BENCH, "the emulated bench cannot be started: %s", strerror(errno));
    if (!ok) {
        close_all(ours);
        return false;
    }
    out->pid = pid;
    memcpy(out->descriptors, ours, sizeof ours);
    return name_port(out, 0, &file->analyser.port, e) && name_port(out, 1, &file->supply.port, e) &&
           name_port(out, 2, &file->fixture, e);
}

void emulated_bench_end(struct emulated_bench *b)
{
    const struct deadline patience = deadline_in(END_S);

    if (b->pid <= 0) return;
    close_all(b->descriptors);
    while (waitpid(b->pid, NULL, WNOHANG) == 0) {
        /* A line that was never opened as a link would keep it alive. */
        if (deadline_passed(patience)) (void)kill(b->pid, SIGKILL);
        deadline_sleep(deadline_in(0.002));
    }
    b->pid = 0;
}

/* Serves the instruments of an emulated bench on descriptors, one loop for all of them.
 *
 * A port is a listening TCP socket on the loopback interface, a pseudo-terminal, or an end of a
 * socket pair that is open already. One controller at a time has an instrument, as with most real
 * ones (common practice); the next waits until the first has closed. */
#ifndef GAINSIEVE_EMULATOR_SERVE_H
#define GAINSIEVE_EMULATOR_SERVE_H

#include "drivers/emulator.h"

#define EMULATOR_PORTS 8
#define EMULATOR_WHERE 96

enum emulator_port_kind { EMULATOR_PORT_TCP = 0, EMULATOR_PORT_PTY, EMULATOR_PORT_OPEN };

struct emulator_port {
    enum emulator_port_kind kind;
    struct emulator_instrument *instrument;
    int listening;  /* of TCP; of a pty its other end, kept open; else -1 */
    int descriptor; /* where bytes move; -1: nobody is connected */
    char
        where[EMULATOR_WHERE]; /* as link.h writes a port: tcp:127.0.0.1:40123, serial:/dev/pts/3 */
    struct text out;           /* due, not yet taken by the other side */
    size_t sent;               /* of it */
    double bytes_per_s;        /* 0: as fast as it goes; else as a line of that speed */
    double free_s;             /* when the line is free again */
    double due_s;              /* when the instrument has more to say */
};

/* Born `= {0}`, ended with emulator_server_clear(), which closes every descriptor. The bench is
 * borrowed and used by the serving thread alone. */
struct emulator_server {
    struct emulator *bench;
    unsigned n_ports;
    struct emulator_port ports[EMULATOR_PORTS];
    int stop; /* with `has_stop`: ends when this descriptor becomes readable or closes */
    bool has_stop;
    bool ignores_stop; /* lives on until its ports hang up, as a real instrument would: whoever was
                          asked to stop must still be able to switch it off */
};

/* Add a port; its `where` tells what to connect to. `tcp_port` 0: any that is free. `descriptor`
 * belongs to the server from now on, also on failure. ERROR_BENCH. */
bool emulator_server_tcp(struct emulator_server *server, struct emulator_instrument *instrument,
                         unsigned tcp_port, struct error *e) MUST_CHECK;
bool emulator_server_pty(struct emulator_server *server, struct emulator_instrument *instrument,
                         struct error *e) MUST_CHECK;
bool emulator_server_open(struct emulator_server *server, struct emulator_instrument *instrument,
                          int descriptor, struct error *e) MUST_CHECK;

/* Serves until somebody asks to stop (stop.h), `stop` says so, or no port can ever get a byte again
 * (all were open descriptors, and all have hung up). True in these cases; else ERROR_BENCH,
 * ERROR_MEMORY. */
bool emulator_serve(struct emulator_server *server, struct error *e) MUST_CHECK;

/* Closes and frees everything but the bench. */
void emulator_server_clear(struct emulator_server *server);

#endif

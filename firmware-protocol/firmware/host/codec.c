/* The codec as a process: frames in on standard input, what became of each on standard
 * output: its enum heard, and for a frame the length and bytes of its payload, and the
 * length and bytes of the wire as this codec would send it. */
#include "../core/frame.h"
#include <stdio.h>

static void tell(const struct ear *e) {
    static uint8_t ring[128];
    struct mouth m;
    mouth_open(&m, ring, sizeof ring - 1, 0);
    for (uint8_t i = 0; i + 2 < e->length; i++) {
        mouth_u8(&m, e->payload[i]);
    }
    uint8_t wire = mouth_close(&m);
    putchar(e->length);
    fwrite(e->payload, 1, e->length, stdout);
    putchar(wire);
    fwrite(ring, 1, wire, stdout);
}

int main(void) {
    static uint8_t in[1 << 16];
    static struct ear ear;
    for (size_t n; (n = fread(in, 1, sizeof in, stdin)) > 0;) {
        for (size_t i = 0; i < n; i++) {
            enum heard what = ear_take(&ear, in[i]);
            if (what == HEARD_NOTHING) {
                continue;
            }
            putchar((int)what);
            if (what == HEARD_FRAME) {
                tell(&ear);
            }
        }
    }
    return 0;
}

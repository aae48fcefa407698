/* Welch's spectra by FFTW, to hold the meter's kernel against: frames of 1024
 * under a Hann window, a new one each 512; sums over the frames of both
 * channels' powers and of conj(left) times right.
 *
 * usage: welch SAMPLES SPECTRA REPEATS
 * SAMPLES: float64, left and right by turns. SPECTRA: four rows of 513 float64,
 * left, right, cross real, cross imaginary; no normalisation. Prints the
 * seconds that the fastest of the repeats took.
 */
#include <fftw3.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

enum { N = 1024, HOP = 512, BINS = N / 2 + 1 };

static double now(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return t.tv_sec + 1e-9 * t.tv_nsec;
}

static void frame(fftw_plan plan, const double *window, const double *left, const double *right,
                  double *in, const fftw_complex *out, double (*restrict sums)[BINS]) {
    for (int i = 0; i < N; i++) {
        in[i] = window[i] * left[i];
        in[N + i] = window[i] * right[i];
    }
    fftw_execute(plan);
    for (int k = 0; k < BINS; k++) {
        double a = out[k][0], b = out[k][1], c = out[BINS + k][0], d = out[BINS + k][1];
        sums[0][k] += a * a + b * b;
        sums[1][k] += c * c + d * d;
        sums[2][k] += a * c + b * d;
        sums[3][k] += a * d - b * c;
    }
}

int main(int argc, char **argv) {
    if (argc != 4) return 2;
    FILE *f = fopen(argv[1], "rb");
    if (!f) return 1;
    fseek(f, 0, SEEK_END);
    long n = ftell(f) / (2 * sizeof(double));
    rewind(f);
    double *both = malloc(2 * n * sizeof(double)), *left = malloc(n * sizeof(double)), *right = malloc(n * sizeof(double));
    if (fread(both, 2 * sizeof(double), n, f) != (size_t)n) return 1;
    fclose(f);
    for (long i = 0; i < n; i++) {
        left[i] = both[2 * i];
        right[i] = both[2 * i + 1];
    }
    static double window[N], sums[4][BINS];
    double *in = fftw_alloc_real(2 * N);
    fftw_complex *out = fftw_alloc_complex(2 * BINS);
    int length = N;
    fftw_plan plan = fftw_plan_many_dft_r2c(1, &length, 2, in, NULL, 1, N, out, NULL, 1, BINS, FFTW_PATIENT);
    for (int i = 0; i < N; i++) window[i] = 0.5 - 0.5 * cos(2 * M_PI * i / N);

    double best = INFINITY;
    for (int r = atoi(argv[3]); r > 0; r--) {
        double start = now();
        memset(sums, 0, sizeof sums);
        for (long at = 0; at + N <= n; at += HOP) frame(plan, window, left + at, right + at, in, out, sums);
        double took = now() - start;
        if (took < best) best = took;
    }
    f = fopen(argv[2], "wb");
    if (!f || fwrite(sums, sizeof sums, 1, f) != 1 || fclose(f)) return 1;
    printf("%.9f\n", best);
    return 0;
}

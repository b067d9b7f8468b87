/* The bowed voice of a general-purpose synthesis toolkit, for the benchmark only: one point of contact, no
 * twist, no rosin, no body. Prints nanoseconds a sample, the best of its rounds. Needs the toolkit's headers
 * (Debian: libstk-dev); without them the comparison is left out and said to be.
 */
#include <chrono>
#include <cstdio>
#include <stk/Bowed.h>

int main()
{
    const int samples = 20000, rounds = 50;
    stk::Stk::setSampleRate(48000);
    stk::Bowed voice(20.0);
    voice.noteOn(196.0, 0.6);
    double best = 1e9, sum = 0.0;
    for (int round = 0; round < rounds; round++) {
        auto began = std::chrono::steady_clock::now();
        for (int i = 0; i < samples; i++)
            sum += voice.tick();
        std::chrono::duration<double> took = std::chrono::steady_clock::now() - began;
        best = took.count() < best ? took.count() : best;
    }
    std::fprintf(stderr, "%g\n", sum); /* so that nothing is left out as unused */
    std::printf("%.3f\n", 1e9 * best / samples);
}

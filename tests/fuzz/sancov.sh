#!/bin/sh
# Compiler wrapper: coverage marks go into our own crates alone, so that the dependencies need not be built anew.
compiler=$1
shift
case " $* " in
*" --crate-name wellreeve "* | *" --crate-name wellreeve_fuzz "* | *"fuzz_targets/"*)
    exec "$compiler" "$@" --cfg fuzzing -C passes=sancov-module -C llvm-args=-sanitizer-coverage-level=4 \
        -C llvm-args=-sanitizer-coverage-inline-8bit-counters -C llvm-args=-sanitizer-coverage-pc-table \
        -C llvm-args=-sanitizer-coverage-trace-compares
    ;;
esac
exec "$compiler" "$@"

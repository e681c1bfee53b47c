#!/usr/bin/env bash
# SPDX-License-Identifier: MIT
# Runs the bench: boots a virtual machine with six CAN controllers on three
# buses, two of which know CAN FD, and runs the cases inside it.
#
# usage: run-bench.sh BUILD-DIRECTORY [CASE ...]
#
# Exit status: 0 every check held; 1 one did not, or the machine broke off;
# 77 the bench cannot run here, the reason is printed. With CI=true in the
# environment, 77 becomes 1: the suite never passes silently without it.
set -uo pipefail
build=$(cd "$1" && pwd) || exit 2
shift
here=$(cd "$(dirname "$0")" && pwd)
kernel=$build/bench-kernel
# seconds, below the time limit of meson
limit=${NODOFF_BENCH_LIMIT:-$((570 * ${NODOFF_PATIENCE:-1}))}

skip() {
	echo "skipped: $1"
	[ "${CI:-}" = true ] && { echo "a skip is a failure here (CI=true)"; exit 1; }
	exit 77
}

for program in qemu-system-x86_64 busybox cpio candump cangen canplayer ip zstd tmux curl mke2fs e2fsck timeout; do
	command -v $program > /dev/null || skip "the program $program is missing"
done
[ -e "$kernel/modules/slcan.ko" ] || skip "no kernel; run tests/bench/fetch-kernel.sh $build once"

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
"$here/make-initramfs.sh" "$kernel" "$build" "$here" "$work/initramfs" || exit 1
only=$(IFS=,; echo "$*")
fd=() # the controllers for CAN FD, where their driver could be built
[ -e "$kernel/modules/ctucanfd.ko" ] && fd=(-object can-bus,id=b2 -device ctucan_pci,canbus0=b2,canbus1=b2)
# noirqdebug: six controllers share interrupt lines; where the host is busy the kernel finds
# that nobody cares for one, and switches it off.
timeout "$limit" qemu-system-x86_64 -accel tcg -smp 2 -m 512 -nodefaults -display none \
	-serial stdio -no-reboot -kernel "$kernel/vmlinuz" -initrd "$work/initramfs" \
	-append "console=ttyS0 quiet panic=1 noirqdebug patience=${NODOFF_PATIENCE:-1} bench=$only" \
	-object can-bus,id=b0 -device kvaser_pci,canbus=b0 -device kvaser_pci,canbus=b0 \
	-object can-bus,id=b1 -device kvaser_pci,canbus=b1 -device kvaser_pci,canbus=b1 \
	"${fd[@]}" \
	< /dev/null 2>&1 | tr -d '\r' | tee "$work/console"

passed=$(grep -c '^ok - ' "$work/console")
failed=$(grep -c '^not ok - ' "$work/console")
left_out=$(grep -c '^left out: ' "$work/console")
echo "# $passed checks held, $failed did not, $left_out cases left out"
grep -q '^# bench ended' "$work/console" || { echo "the machine broke off"; exit 1; }
[ "$left_out" -gt 0 ] && [ "${CI:-}" = true ] && { echo "a case left out is a failure here (CI=true)"; exit 1; }
[ "$failed" -eq 0 ] && [ "$passed" -gt 0 ]

#!/usr/bin/env bash
# SPDX-License-Identifier: MIT
# One-time set-up of the bench: downloads Debian's stock kernel package and
# unpacks what the virtual machine needs. Nothing is installed. Afterwards
# the bench needs no network.
#
# usage: fetch-kernel.sh BUILD-DIRECTORY
set -euo pipefail
[ $# -eq 1 ] || { echo "usage: $0 BUILD-DIRECTORY" >&2; exit 2; }
target=$1/bench-kernel
modules='net/can/can net/can/can-raw net/can/can-gw drivers/net/can/dev/can-dev
	drivers/net/can/vcan drivers/net/can/sja1000/sja1000 drivers/net/can/sja1000/kvaser_pci
	drivers/block/loop fs/ext4/ext4 fs/jbd2/jbd2 fs/mbcache lib/crc16 crypto/crc32c_generic'

if [ -e "$target/vmlinuz" ] && (cd "$target/modules" && for module in $modules; do
		[ -e "$(basename "$module").ko" ] || exit 1
	done); then
	echo "the kernel is already in $target"
	exit 0
fi
work=$(mktemp -d "$1/bench-kernel.XXXXXX")
trap 'rm -rf "$work"' EXIT
newest_kernel() {
	apt-cache depends linux-image-amd64 2> /dev/null | awk '/Depends:/ {print $2; exit}'
}
package=$(newest_kernel)
if [ -z "$package" ]; then
	if [ "$(id -u)" = 0 ]; then apt-get -qq update; else sudo apt-get -qq update; fi
	package=$(newest_kernel)
fi
[ -n "$package" ] || { echo "apt knows no linux-image-amd64; run apt-get update" >&2; exit 1; }
(cd "$work" && apt-get -qq download "$package" && dpkg -x "$package"_*.deb unpacked)
mkdir -p "$work/ready/modules"
for module in $modules; do
	cp "$work"/unpacked/lib/modules/*/kernel/"$module".ko "$work/ready/modules/"
done
cp "$work"/unpacked/boot/vmlinuz-* "$work/ready/vmlinuz"
rm -rf "$target" # one from before lacks a module
mv "$work/ready" "$target"
echo "the kernel of $package is in $target"

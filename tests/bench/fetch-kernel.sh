#!/usr/bin/env bash
# SPDX-License-Identifier: MIT
# One-time set-up of the bench: downloads Debian's stock kernel package and
# unpacks what the virtual machine needs. Nothing is installed. Afterwards
# the bench needs no network.
#
# The driver of the one emulated controller with CAN FD is off in Debian's kernel: it is built
# from Debian's source against Debian's headers (10 s, 160 MB are downloaded for it).
#
# usage: fetch-kernel.sh BUILD-DIRECTORY
set -euo pipefail
[ $# -eq 1 ] || { echo "usage: $0 BUILD-DIRECTORY" >&2; exit 2; }
target=$1/bench-kernel
modules='net/can/can net/can/can-raw net/can/can-gw drivers/net/can/dev/can-dev
	drivers/net/can/vcan drivers/net/can/sja1000/sja1000 drivers/net/can/sja1000/kvaser_pci
	drivers/net/can/slcan/slcan
	drivers/virtio/virtio_ring drivers/virtio/virtio drivers/virtio/virtio_pci_legacy_dev
	drivers/virtio/virtio_pci_modern_dev drivers/virtio/virtio_pci drivers/block/virtio_blk
	drivers/block/loop fs/ext4/ext4 fs/jbd2/jbd2 fs/mbcache lib/crc16 crypto/crc32c_generic'
built='ctucanfd ctucanfd_pci'

if [ -e "$target/vmlinuz" ] && (cd "$target/modules" && for module in $modules $built; do
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
release=${package#linux-image-} # 6.1.0-9-amd64
version=$(apt-cache show "$package" | sed -n 's/^Version: //p' | head -1)

fetch() { # fetch PACKAGE...: unpacks them, of the kernel's own version
	(cd "$work" && for name; do
		apt-get -qq download "$name=$version" && dpkg -x "$name"_*.deb unpacked || exit 1
	done)
}

# The tools that build modules are taken newer where Debian has them newer only: between the two
# uploads of an update they are, for hours, as the kernel itself is signed first.
fetch_tools() {
	local known
	known=$(apt-cache madison "$1" | awk -v v="$version" '$3 == v {print v}' | head -1)
	(cd "$work" && apt-get -qq download "$1${known:+=$known}" && dpkg -x "$1"_*.deb unpacked)
}

build_fd_driver() {
	local series=${version%%.*} headers=$work/unpacked/usr/src/linux-headers-$release
	local rest=${version#*.}
	series=$series.${rest%%.*}
	fetch "linux-headers-$release" "linux-headers-${release%-amd64}-common" \
		"linux-source-$series" && fetch_tools "linux-kbuild-$series" || return
	(
		cd "$work"
		tar -xf "unpacked/usr/src/linux-source-$series.tar.xz" --strip-components=1 \
			"linux-source-$series/drivers/net/can/ctucanfd"
		sed -i "s|^include /usr/src|include $PWD/unpacked/usr/src|" "$headers/Makefile"
		make -s -C "$headers" M="$PWD/drivers/net/can/ctucanfd" CONFIG_CAN_CTUCANFD=m \
			CONFIG_CAN_CTUCANFD_PCI=m CONFIG_CAN_CTUCANFD_PLATFORM= modules
		for module in $built; do
			strip -g -o "ready/modules/$module.ko" "drivers/net/can/ctucanfd/$module.ko"
		done
	) > "$work/log" 2>&1 || { tail "$work/log"; return 1; }
}

mkdir -p "$work/ready/modules"
work=$(cd "$work" && pwd)
fetch "$package"
for module in $modules; do
	cp "$work"/unpacked/lib/modules/*/kernel/"$module".ko "$work/ready/modules/"
done
cp "$work"/unpacked/boot/vmlinuz-* "$work/ready/vmlinuz"
build_fd_driver || echo "the driver for CAN FD could not be built: its case is left out"
rm -rf "$target" # one from before lacks a module
mv "$work/ready" "$target"
echo "the kernel of $package is in $target"

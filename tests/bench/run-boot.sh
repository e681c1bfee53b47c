#!/usr/bin/env bash
# SPDX-License-Identifier: MIT
# The package on a machine of its own: Debian with systemd, in which it is installed, enabled,
# given an adapter while it runs, rebooted and cut off in the middle of recordings.
#
# usage: run-boot.sh BUILD-DIRECTORY DIRECTORY-OF-DEBIAN-PACKAGES
#
# The system is made once in BUILD-DIRECTORY/bench-boot (some 100 MB are downloaded).
# Exit status: 0 every check held, 1 one did not or the machine broke off, 77 it cannot run here.
set -euo pipefail
build=$(cd "$1" && pwd) debs=$(cd "$2" && pwd)
here=$(cd "$(dirname "$0")" && pwd)
kernel=$build/bench-kernel place=$build/bench-boot
patience=${NODOFF_PATIENCE:-1}

for program in mmdebstrap fakeroot qemu-system-x86_64 mke2fs depmod busybox cpio python3; do
	command -v $program > /dev/null || PATH=$PATH:/usr/sbin command -v $program > /dev/null ||
		{ echo "skipped: the program $program is missing"; exit 77; }
done
PATH=$PATH:/usr/sbin
mkdir -p "$place"
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

make_system() {
	local needs
	needs=$(dpkg-deb -f "$debs"/nodoff_*.deb Depends; dpkg-deb -f "$debs"/libnodoff0_*.deb Depends)
	needs=$(tr ',' '\n' <<< "$needs" | sed 's/^ *//; s/[ (|].*$//' |
		grep -v nodoff | sort -u | paste -sd,)
	mmdebstrap --format=tar --variant=minbase \
		--include="systemd-sysv,udev,kmod,can-utils,iproute2,zstd,$needs" \
		bookworm "$place/root.tar.part" "$("$here/../../.ci/mirror")"
	mv "$place/root.tar.part" "$place/root.tar"
}

make_initramfs() {
	local root=$work/initramfs
	mkdir -p "$root"/{bin,dev,proc,modules,root}
	cp /bin/busybox "$root/bin/"
	cp "$kernel"/modules/*.ko "$root/modules/"
	cat > "$root/init" <<-'INIT'
		#!/bin/busybox sh
		/bin/busybox mount -t devtmpfs none /dev
		for module in virtio_ring virtio virtio_pci_legacy_dev virtio_pci_modern_dev virtio_pci \
			virtio_blk crc16 crc32c_generic mbcache jbd2 ext4; do
			/bin/busybox insmod /modules/$module.ko 2> /dev/null
		done
		until [ -e /dev/vda ]; do /bin/busybox sleep 1; done
		/bin/busybox mount -t ext4 /dev/vda /root
		exec /bin/busybox switch_root /root /sbin/init
	INIT
	chmod +x "$root/init"
	(cd "$root" && find . | cpio -o -H newc --quiet) > "$work/initramfs.cpio"
}

make_disk() {
	local root=$work/root
	cat > "$work/make" <<-MAKE
		set -e
		mkdir "$root"
		tar -C "$root" -xf "$place/root.tar"
		mkdir -p "$root/usr/lib/modules/$release" "$root/bench"
		cp "$kernel"/modules/*.ko "$root/usr/lib/modules/$release/"
		depmod -b "$root/usr" "$release"
		cp "$debs"/nodoff_*.deb "$debs"/libnodoff0_*.deb "$here/boot-guest.sh" "$here/words.sh" \
			"$root/bench/"
		cp "$here/boot.service" "$root/etc/systemd/system/"
		ln -s ../boot.service "$root/etc/systemd/system/multi-user.target.wants/"
		ln -s /dev/null "$root/etc/systemd/system/serial-getty@ttyS0.service"
		echo "/dev/vda / ext4 defaults 0 1" > "$root/etc/fstab"
		mke2fs -q -t ext4 -d "$root" "$work/disk" 1500M
	MAKE
	fakeroot bash "$work/make"
	rm -rf "$root"
}

"$here/fetch-kernel.sh" "$build" > "$place/log" 2>&1 || { tail "$place/log"; exit 1; }
release=$(modinfo -F vermagic "$kernel/modules/ext4.ko" | cut -d' ' -f1)
[ -e "$place/root.tar" ] || make_system > "$place/log" 2>&1 || { tail "$place/log"; exit 1; }
make_initramfs
make_disk
python3 "$here/boot-host.py" "$kernel/vmlinuz" "$work/initramfs.cpio" "$work/disk" \
	$((600 * patience)) | tee "$work/console"
passed=$(grep -c '^ok - ' "$work/console" || true)
failed=$(grep -c '^not ok - ' "$work/console" || true)
echo "# $passed checks held, $failed did not"
grep -q '^# boot ended' "$work/console" || { echo "the machine broke off"; exit 1; }
[ "$failed" -eq 0 ] && [ "$passed" -gt 0 ]

//! What a plan's paths and patterns find on a disk.

use super::{FILES, SOUND, load_text, names, survey, told};
use std::fs;
use std::path::Path;
use wellreeve::plan::Loaded;

fn with_files(folder: &Path, files: &str) -> Loaded {
    load_text(folder, SOUND.replacen("[\"lab/*.csv\"]", files, 1))
}

#[test]
fn files_are_sorted_by_bytes_and_each_stands_once() {
    let folder = survey(FILES);
    for name in ["lab/B.csv", "lab/a[1].csv", "lab/10.csv", "lab/9.csv", "lab/deep/er/c.csv"] {
        fs::create_dir_all(folder.path().join(name).parent().unwrap()).unwrap();
        fs::write(folder.path().join(name), "x\n").unwrap();
    }
    let loaded =
        with_files(folder.path(), "[\"lab/**/*.csv\", \"./lab/a.csv\", \"lab/../lab/b.csv\", \"lab/a[1].csv\"]");
    assert_eq!(told(folder.path(), &loaded), "");
    let files = names(folder.path(), &loaded.plan.unwrap().results[0].files);
    let expected =
        ["lab/../lab/b.csv", "lab/10.csv", "lab/9.csv", "lab/B.csv", "lab/a.csv", "lab/a[1].csv", "lab/deep/er/c.csv"];
    assert_eq!(files, expected);
}

#[test]
fn a_folder_with_marks_in_its_name_is_no_pattern() {
    let parent = survey(&[]);
    let folder = parent.path().join("wells [2025] *");
    for name in FILES {
        fs::create_dir_all(folder.join(name).parent().unwrap()).unwrap();
        fs::write(folder.join(name), "x\n").unwrap();
    }
    assert_eq!(told(&folder, &load_text(&folder, SOUND)), "");
}

#[cfg(unix)]
#[test]
fn links_are_followed_without_counting_a_file_twice_or_going_round() {
    use std::os::unix::fs::symlink;
    let folder = survey(FILES);
    let at = |name: &str| folder.path().join(name);
    symlink(at("lab/a.csv"), at("lab/again.csv")).unwrap();
    symlink(at("lab"), at("lab/round")).unwrap();
    symlink(at("lab"), at("lab/and-round")).unwrap();
    symlink(at("lab/b.csv"), at("copy.csv")).unwrap();
    let loaded = with_files(folder.path(), "[\"lab/**/*.csv\"]");
    assert_eq!(told(folder.path(), &loaded), "");
    assert_eq!(names(folder.path(), &loaded.plan.unwrap().results[0].files), ["lab/a.csv", "lab/b.csv"]);
    let twice = load_text(folder.path(), SOUND.replace("[\"tarn.csv\"]", "[\"copy.csv\"]"));
    assert!(told(folder.path(), &twice).contains("\"copy.csv\" is already in results[1].files"));
    symlink(at("gone.csv"), at("lab/dangling.csv")).unwrap();
    let dangling = with_files(folder.path(), "[\"lab/*.csv\"]");
    assert!(told(folder.path(), &dangling).contains("\"lab/dangling.csv\" cannot be read: entity not found"));
}

#[test]
fn patterns_go_into_folders_and_through_named_links() {
    let folder = survey(FILES);
    for name in ["lab/2024/n/c.csv", "lab/2025/n/d.csv", "lab/2025/.x/e.csv", "other/f.csv"] {
        fs::create_dir_all(folder.path().join(name).parent().unwrap()).unwrap();
        fs::write(folder.path().join(name), "x\n").unwrap();
    }
    let absolute = folder.path().join("other/*.csv").display().to_string();
    for (pattern, expected) in [
        ("lab/202[45]/**/*.csv", &["lab/2024/n/c.csv", "lab/2025/n/d.csv"][..]),
        ("lab/*/n/*.csv", &["lab/2024/n/c.csv", "lab/2025/n/d.csv"]),
        ("lab/2025/**", &["lab/2025/n/d.csv"]),
        ("other/../lab/[!b].csv", &["other/../lab/a.csv"]),
        (absolute.as_str(), &["other/f.csv"]),
    ] {
        let loaded = with_files(folder.path(), &format!("[{pattern:?}]"));
        assert_eq!(told(folder.path(), &loaded), "");
        assert_eq!(names(folder.path(), &loaded.plan.unwrap().results[0].files), expected, "{pattern}");
    }
}

fn main() {
    for path in std::env::args().skip(1) {
        let bytes = std::fs::read(&path).unwrap();
        let t0 = std::time::Instant::now();
        let read =
            lapidary::mesh::read_stl(&bytes, &lapidary::mesh::ReadOptions::new(1.0)).unwrap();
        let t1 = std::time::Instant::now();
        let f = lapidary::mesh::faces::faces(&read.mesh);
        let t2 = std::time::Instant::now();
        println!(
            "{path}: {} triangles, read {:?}, faces {:?}, {} faces, tol {} {:?}",
            read.mesh.triangles.len(),
            t1 - t0,
            t2 - t1,
            f.faces.len(),
            f.tolerance_mm,
            f.grounds
        );
        let total: f64 = f.faces.iter().map(|f| f.area_mm2).sum();
        for kind in ["flat", "cylinder", "cone", "torus", "sphere", "other"] {
            let n: Vec<_> = f.faces.iter().filter(|f| f.form.kind() == kind).collect();
            let a: f64 = n.iter().map(|f| f.area_mm2).sum();
            println!("  {kind}: {} faces {:.2}%", n.len(), 100.0 * a / total);
        }
        let t3 = std::time::Instant::now();
        let feats = lapidary::mesh::features::features(&read.mesh, &f);
        println!("  features {:?}: {}", t3.elapsed(), feats.len());
        if std::env::var("FEAT").is_ok() {
            for x in &feats {
                println!(
                    "  {} {:?} access {:?} faces {:?}",
                    x.name, x.form, x.access, x.faces
                );
            }
        }
        if std::env::var("ALL").is_ok() {
            for x in &f.faces {
                println!(
                    "  {} n{} a{:.2} e{:.5} {:?}",
                    x.name,
                    x.triangles.len(),
                    x.area_mm2,
                    x.fit_error_mm,
                    x.form
                );
            }
        }
    }
}
